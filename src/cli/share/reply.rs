//! What every answer says besides its contents: kept by no cache, framed and guessed by nobody, and
//! with no outside resource allowed.

use http_body_util::combinators::UnsyncBoxBody;
use http_body_util::{BodyExt, Full};
use hyper::body::Bytes;
use hyper::header::{self, HeaderValue};
use hyper::{Response, StatusCode};
use std::io;

/// What is sent.
pub(super) type Body = UnsyncBoxBody<Bytes, io::Error>;
/// An answer.
pub(super) type Reply = Response<Body>;

/// For everything that is not a page of its own.
const NOTHING: &str = "default-src 'none'; base-uri 'none'; form-action 'none'; \
                       frame-ancestors 'none'; sandbox";

/// An answer of this kind.
pub(super) fn reply(status: StatusCode, kind: &'static str, body: Body) -> Reply {
    let mut reply = Response::new(body);
    *reply.status_mut() = status;
    let headers = reply.headers_mut();
    for (name, value) in [
        (header::CONTENT_TYPE, kind),
        (header::CACHE_CONTROL, "no-store"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::CONTENT_SECURITY_POLICY, NOTHING),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    for (name, value) in [
        ("cross-origin-opener-policy", "same-origin"),
        ("cross-origin-resource-policy", "same-origin"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    reply
}

/// Another policy than that nothing is allowed.
pub(super) fn with_policy(mut reply: Reply, policy: &str) -> Reply {
    if let Ok(value) = HeaderValue::from_str(policy) {
        reply
            .headers_mut()
            .insert(header::CONTENT_SECURITY_POLICY, value);
    }
    reply
}

/// A few words.
pub(super) fn words(status: StatusCode, text: &str) -> Reply {
    reply(
        status,
        "text/plain; charset=utf-8",
        whole(format!("{text}\n")),
    )
}

/// All at once.
pub(super) fn whole(contents: impl Into<Bytes>) -> Body {
    Full::new(contents.into())
        .map_err(|never| match never {})
        .boxed_unsync()
}

/// Whatever there may be elsewhere.
pub(super) fn nothing_here() -> Reply {
    words(StatusCode::NOT_FOUND, "nothing here")
}
