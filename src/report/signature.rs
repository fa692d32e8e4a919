//! Signing a recording's seal with Ed25519 (RFC 8032), and checking the signature. Keys are PEM
//! files as RFC 8410 has them, which other tools read and write too.

use ed25519_dalek::pkcs8::EncodePrivateKey;
use ed25519_dalek::pkcs8::spki::der::pem::LineEnding;
use ed25519_dalek::pkcs8::{DecodePrivateKey, DecodePublicKey, EncodePublicKey, KeypairBytes};
use ed25519_dalek::{Signature as Bytes, Signer, SigningKey, VerifyingKey};
use serde::{Deserialize, Serialize};

/// What `format` says in a signature file.
const FORMAT: &str = "needlerest-signature";

/// A signature over a recording's seal, as its file holds it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Signature {
    /// Always `needlerest-signature`.
    pub format: String,
    /// Version of the format; 1.
    pub version: u32,
    /// The seal that was signed: SHA-256 in hexadecimal.
    pub seal: String,
    /// The signer's public key (32 bytes).
    #[serde(with = "hex::serde")]
    pub public_key: [u8; 32],
    /// The signature (64 bytes) over [`message`].
    #[serde(with = "hex::serde")]
    pub signature: [u8; 64],
}

/// Why something could not be signed or a signature is not accepted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SignatureError {
    /// The key file is not one.
    #[error("not an Ed25519 key in PEM: {0}")]
    Key(String),
    /// The signature file is not one.
    #[error("not a signature file: {0}")]
    File(String),
    /// The signature is over another seal.
    #[error("the signature is for another recording (its seal is {0})")]
    OtherSeal(String),
    /// The signature does not belong to this seal and key.
    #[error("the signature does not hold: it was not made with this key over this seal")]
    DoesNotHold,
    /// Somebody else signed.
    #[error("the signature holds, but it was made with another key than the one given")]
    OtherKey,
}

/// What is signed: a line that says what it is, and the seal in lower-case hexadecimal, so that a
/// signature made for another purpose cannot be passed off as this.
pub fn message(seal: &str) -> Vec<u8> {
    format!("needlerest seal 1\n{}\n", seal.to_ascii_lowercase()).into_bytes()
}

/// A new key pair from 32 random bytes, as PEM: private, public.
///
/// # Errors
/// If the key cannot be encoded.
pub fn key_pair(secret: &[u8; 32]) -> Result<(String, String), SignatureError> {
    let key = SigningKey::from_bytes(secret);
    // Without the public half: the older form, which every tool reads.
    let private = KeypairBytes {
        secret_key: *secret,
        public_key: None,
    };
    let private = private
        .to_pkcs8_pem(LineEnding::LF)
        .map_err(|error| SignatureError::Key(error.to_string()))?;
    let public = key
        .verifying_key()
        .to_public_key_pem(LineEnding::LF)
        .map_err(|error| SignatureError::Key(error.to_string()))?;
    Ok((private.to_string(), public))
}

/// Signs a seal with a private key in PEM.
///
/// # Errors
/// If the key is not one.
pub fn sign(seal: &str, private_pem: &str) -> Result<Signature, SignatureError> {
    let key = SigningKey::from_pkcs8_pem(private_pem)
        .map_err(|error| SignatureError::Key(error.to_string()))?;
    Ok(Signature {
        format: FORMAT.to_owned(),
        version: 1,
        seal: seal.to_ascii_lowercase(),
        public_key: key.verifying_key().to_bytes(),
        signature: key.sign(&message(seal)).to_bytes(),
    })
}

impl Signature {
    /// Reads a signature file.
    ///
    /// # Errors
    /// If it is not one, or of a newer version.
    pub fn parse(text: &str) -> Result<Self, SignatureError> {
        let file = |why: String| SignatureError::File(why);
        let found: Self = serde_json::from_str(text).map_err(|error| file(error.to_string()))?;
        if found.format != FORMAT {
            return Err(file(format!(
                "its format is \"{}\"",
                super::words::shorten(&found.format, 40)
            )));
        }
        if found.version != 1 {
            return Err(file(format!(
                "version {} is not known; a newer needlerest may read it",
                found.version
            )));
        }
        Ok(found)
    }

    /// As a file: JSON with a line feed at the end.
    ///
    /// # Errors
    /// Only if it cannot be written as JSON, which cannot be.
    pub fn to_json(&self) -> serde_json::Result<String> {
        serde_json::to_string_pretty(self).map(|text| text + "\n")
    }

    /// Checks that it holds for the seal and, where a public key in PEM is given, that it was
    /// made with that key.
    ///
    /// # Errors
    /// Says which of it is not so.
    pub fn check(&self, seal: &str, public_pem: Option<&str>) -> Result<(), SignatureError> {
        if !self.seal.eq_ignore_ascii_case(seal) {
            return Err(SignatureError::OtherSeal(super::words::shorten(
                &self.seal, 64,
            )));
        }
        let key =
            VerifyingKey::from_bytes(&self.public_key).map_err(|_| SignatureError::DoesNotHold)?;
        key.verify_strict(&message(seal), &Bytes::from_bytes(&self.signature))
            .map_err(|_| SignatureError::DoesNotHold)?;
        let Some(pem) = public_pem else { return Ok(()) };
        let trusted = VerifyingKey::from_public_key_pem(pem)
            .map_err(|error| SignatureError::Key(error.to_string()))?;
        if trusted == key {
            Ok(())
        } else {
            Err(SignatureError::OtherKey)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 8032, section 7.1, test 1: secret key, public key, signature of the empty message.
    #[test]
    fn the_library_agrees_with_rfc_8032() {
        let secret = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60";
        let public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a";
        let signature = "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b";
        let mut bytes = [0; 32];
        hex::decode_to_slice(secret, &mut bytes).unwrap();
        let key = SigningKey::from_bytes(&bytes);
        assert_eq!(hex::encode(key.verifying_key().to_bytes()), public);
        assert_eq!(hex::encode(key.sign(b"").to_bytes()), signature);
    }

    #[test]
    fn every_kind_of_forgery_is_named() {
        let (private, public) = key_pair(&[7; 32]).unwrap();
        let (_, other) = key_pair(&[8; 32]).unwrap();
        let seal = "ab".repeat(32);
        let signed = sign(&seal, &private).unwrap();
        let read = Signature::parse(&signed.to_json().unwrap()).unwrap();
        assert_eq!(read, signed);
        assert_eq!(read.check(&seal, None), Ok(()));
        assert_eq!(read.check(&seal, Some(&public)), Ok(()));
        assert_eq!(
            read.check(&seal, Some(&other)),
            Err(SignatureError::OtherKey)
        );
        let wrong = "cd".repeat(32);
        assert!(matches!(
            read.check(&wrong, None),
            Err(SignatureError::OtherSeal(_))
        ));
        let mut forged = read.clone();
        forged.seal.clone_from(&wrong);
        assert_eq!(forged.check(&wrong, None), Err(SignatureError::DoesNotHold));
        let mut bent = read;
        bent.signature[3] ^= 1;
        assert_eq!(bent.check(&seal, None), Err(SignatureError::DoesNotHold));
    }

    #[test]
    fn files_that_are_none_are_said_so() {
        assert!(matches!(sign("00", "hello"), Err(SignatureError::Key(_))));
        assert!(matches!(
            Signature::parse("{}"),
            Err(SignatureError::File(_))
        ));
    }
}
