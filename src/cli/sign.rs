//! `sign` and `key`: sign a recording's seal, and make the keys for it.

use super::{Exit, Failure, Outcome, document, out};
use crate::recording::{self, SealState};
use crate::report::signature::{SignatureError, key_pair, sign};
use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Sign a recording's seal, so that others can tell who vouches for it
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  needlerest key my.key\n  needlerest sign heron.jsonl --key my.key"
)]
pub(super) struct Args {
    /// The recording; its seal must hold
    recording: PathBuf,
    /// Your private key (PEM), as `key` makes it
    #[arg(long, value_name = "FILE")]
    key: PathBuf,
}

/// Make a key pair for signing: FILE to keep to yourself, FILE.pub to give to others
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  needlerest key my.key")]
pub(super) struct KeyArgs {
    /// Where to put the private key; an existing file is never overwritten
    file: PathBuf,
}

/// Where a recording's signature is kept.
pub(super) fn beside(recording: &Path) -> PathBuf {
    with_end(recording, ".signature")
}

fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

pub(super) fn run(args: &Args) -> Outcome {
    let seal = seal(&args.recording)?;
    let place = beside(&args.recording);
    let pem = private(&args.key)?;
    let signature = sign(&seal, &pem).map_err(|error| bad_key(&error, &args.key))?;
    let text = signature
        .to_json()
        .map_err(|error| Failure::new(Exit::Failed, error))?;
    put(&place, text.as_bytes(), false)?;
    let mut out = out::stdout();
    writeln!(out, "signed     seal {seal}")?;
    out.line(format!("signature  {}", place.display()))?;
    Ok(Exit::Done)
}

pub(super) fn run_key(args: &KeyArgs) -> Outcome {
    let mut secret = [0; 32];
    getrandom::fill(&mut secret).map_err(|error| {
        Failure::new(
            Exit::Failed,
            format!("the system gives no random numbers: {error}"),
        )
    })?;
    let (private, public) = key_pair(&secret).map_err(|error| Failure::new(Exit::Failed, error))?;
    let public_place = with_end(&args.file, ".pub");
    if public_place.symlink_metadata().is_ok() {
        return Err(in_the_way(&public_place));
    }
    put(&args.file, private.as_bytes(), true)?;
    put(&public_place, public.as_bytes(), false)?;
    let mut out = out::stdout();
    out.line(format!(
        "private    {}  (keep it to yourself)",
        args.file.display()
    ))?;
    out.line(format!(
        "public     {}  (give it to those who check)",
        public_place.display()
    ))?;
    Ok(Exit::Done)
}

fn seal(path: &Path) -> Result<String, Failure> {
    let mut reader = recording::open(path)
        .map_err(|error| Failure::new(Exit::BadInput, error).at(path.display()))?;
    for line in reader.by_ref() {
        line.map_err(|error| Failure::file(path, "read", &error))?;
    }
    let failure = |what: &str| Failure::new(Exit::Mismatch, what).at(path.display());
    match reader.seal() {
        SealState::Holds { sha256 } => Ok(sha256.clone()),
        SealState::Broken { .. } => Err(failure(
            "the seal does not hold: the recording was changed after it was sealed",
        )
        .remedy("sign the recording as it was, from a copy that is whole")),
        SealState::Missing => Err(failure(
            "the recording has no seal: it was cut short, or goes on",
        )
        .remedy("end the recording first; of a cut-short one, needlerest inspect FILE --recover COPY makes a sealed copy")),
    }
}

/// Reads a private key, unless others on this machine may read it too.
fn private(path: &Path) -> Result<String, Failure> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let meta = fs::metadata(path).map_err(|error| Failure::file(path, "read", &error))?;
        if meta.permissions().mode() & 0o077 != 0 {
            return Err(Failure::new(
                Exit::Failed,
                "others on this machine may read this private key",
            )
            .at(path.display())
            .remedy(format!("chmod 600 {}", path.display())));
        }
    }
    document::text(path)
}

fn bad_key(error: &SignatureError, path: &Path) -> Failure {
    Failure::new(Exit::BadInput, error)
        .at(path.display())
        .remedy("`needlerest key FILE` makes one; `openssl genpkey -algorithm ed25519` too")
}

fn in_the_way(path: &Path) -> Failure {
    Failure::new(
        Exit::Failed,
        "there is a file of this name already; it was left as it is",
    )
    .at(path.display())
    .remedy("move it away, or choose another name")
}

/// Writes a new file; one that is there is never touched.
fn put(path: &Path, bytes: &[u8], secret: bool) -> Result<(), Failure> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(if secret { 0o600 } else { 0o666 });
    }
    #[cfg(not(unix))]
    let _ = secret; // who may read it goes by the folder
    let write = |mut file: File| file.write_all(bytes).and_then(|()| file.sync_all());
    match options.open(path) {
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => Err(in_the_way(path)),
        Err(error) => Err(Failure::file(path, "write", &error)),
        Ok(file) => write(file).map_err(|error| {
            // Half a file helps nobody; if it cannot be removed either, the error says enough.
            let _ = fs::remove_file(path);
            Failure::file(path, "write", &error)
        }),
    }
}
