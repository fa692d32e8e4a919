//! Keys and signatures against OpenSSL: a kept fixture that it made (`fixtures/report/openssl`),
//! and, where it is installed, OpenSSL itself by the commands of `protocol/session-file.md`.

use needlerest::report::signature::{key_pair, message, sign};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/report/openssl")
        .join(name)
}

fn text(name: &str) -> String {
    fs::read_to_string(fixture(name)).unwrap()
}

#[test]
fn a_key_made_by_openssl_signs_to_the_same_bytes_as_openssl() {
    let seal = text("seal.txt");
    let seal = seal.trim_end();
    let signed = sign(seal, &text("signer.key")).unwrap();
    let theirs = fs::read(fixture("signature.bin")).unwrap();
    assert_eq!(signed.signature.as_slice(), theirs);
    signed.check(seal, Some(&text("signer.key.pub"))).unwrap();
    assert!(signed.check(&seal.replace('1', "2"), None).is_err());
}

/// The secret of RFC 8032, section 7.1, test 1, in the bytes that RFC 8410 prescribes around it.
#[test]
fn keys_are_written_byte_for_byte_as_rfc_8410_has_them() {
    let secret = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60";
    let public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a";
    let mut bytes = [0; 32];
    hex::decode_to_slice(secret, &mut bytes).unwrap();
    let pair = key_pair(&bytes).unwrap();
    let private = pem(&pair.0, "PRIVATE KEY");
    assert_eq!(private, format!("302e020100300506032b657004220420{secret}"));
    assert_eq!(
        pem(&pair.1, "PUBLIC KEY"),
        format!("302a300506032b6570032100{public}")
    );
}

/// What a PEM text holds, in hexadecimal.
fn pem(text: &str, label: &str) -> String {
    let body = text
        .strip_prefix(&format!("-----BEGIN {label}-----\n"))
        .and_then(|rest| rest.strip_suffix(&format!("\n-----END {label}-----\n")))
        .unwrap();
    const LETTERS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let letters = body.chars().filter(|c| !c.is_whitespace() && *c != '=');
    let bits: String = letters
        .map(|c| format!("{:06b}", LETTERS.find(c).unwrap()))
        .collect();
    let bytes = bits.as_bytes().chunks_exact(8);
    bytes
        .map(|byte| {
            let byte = std::str::from_utf8(byte).unwrap();
            format!("{:02x}", u8::from_str_radix(byte, 2).unwrap())
        })
        .collect()
}

fn openssl(folder: &Path, line: &str) -> bool {
    let mut command = Command::new("openssl");
    let command = command.current_dir(folder).args(line.split_whitespace());
    let quiet = command.stdout(Stdio::null()).stderr(Stdio::null());
    quiet.status().is_ok_and(|status| status.success())
}

#[test]
fn openssl_itself_accepts_our_keys_and_signatures() {
    let dir = tempfile::tempdir().unwrap();
    let at = dir.path();
    if !openssl(at, "version") {
        assert!(std::env::var_os("CI").is_none(), "openssl is not installed");
        eprintln!("skipped: openssl is not installed");
        return;
    }
    let seal = "ab".repeat(32);
    let (private, public) = key_pair(&[7; 32]).unwrap();
    fs::write(at.join("my.key"), &private).unwrap();
    fs::write(at.join("my.key.pub"), &public).unwrap();
    assert!(openssl(at, "pkey -in my.key -noout"));
    assert!(openssl(at, "pkey -in my.key -pubout -out theirs.pub"));
    assert_eq!(fs::read_to_string(at.join("theirs.pub")).unwrap(), public);
    let signed = sign(&seal, &private).unwrap();
    let check = "pkeyutl -verify -pubin -inkey my.key.pub -rawin -in message -sigfile signature";
    fs::write(at.join("message"), message(&seal)).unwrap();
    fs::write(at.join("signature"), signed.signature).unwrap();
    assert!(openssl(at, check));
    fs::write(at.join("message"), message(&"ac".repeat(32))).unwrap();
    assert!(!openssl(at, check));
}
