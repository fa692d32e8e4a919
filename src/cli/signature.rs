//! The signature beside a recording, for the commands that look at one.

use super::{Exit, Failure, document, sign};
use crate::report::signature::{Signature, SignatureError};
use serde::Serialize;
use std::path::Path;

/// What was found of a signature.
#[derive(Serialize)]
pub(super) struct Signed {
    /// It was made over this recording's seal, with the key that was named if one was.
    pub(super) holds: bool,
    key: Option<String>,
    key_expected: bool,
    why_not: Option<String>,
}

/// Checks the signature that is named, or the one beside the recording; none if there is none.
pub(super) fn check(
    recording: &Path,
    named: Option<&Path>,
    public_key: Option<&Path>,
    seal: Option<&str>,
) -> Result<Option<Signed>, Failure> {
    let usual = sign::beside(recording);
    let path = match named {
        Some(path) => path,
        None if usual.is_file() => &usual,
        None if public_key.is_some() => {
            return Err(
                Failure::new(Exit::Failed, "there is no signature to check with this key")
                    .at(usual.display())
                    .remedy("name the signature's file with --signature"),
            );
        }
        None => return Ok(None),
    };
    let public = public_key.map(document::text).transpose()?;
    let bad = |error: &SignatureError, path: &Path| {
        Failure::new(Exit::BadInput, error).at(path.display())
    };
    let signature = Signature::parse(&document::text(path)?).map_err(|error| bad(&error, path))?;
    let checked = signature.check(seal.unwrap_or(""), public.as_deref());
    if let (Err(error @ SignatureError::Key(_)), Some(path)) = (&checked, public_key) {
        return Err(bad(error, path));
    }
    Ok(Some(Signed {
        holds: checked.is_ok(),
        key: Some(hex::encode(signature.public_key)),
        key_expected: public.is_some(),
        why_not: checked.err().map(|error| error.to_string()),
    }))
}

impl Signed {
    /// In a line.
    pub(super) fn line(&self) -> String {
        let key = self.key.as_deref().unwrap_or("");
        match (&self.why_not, self.key_expected) {
            (None, true) => "holds, and was made with the key you named".to_owned(),
            (None, false) => {
                format!("holds, made with key {key}; verify --public-key checks whose that is")
            }
            (Some(why), _) => format!("NOT accepted: {why}"),
        }
    }
}
