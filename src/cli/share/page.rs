//! The page itself: one file, with its style and its script in it, and the cautions.

use super::reply::{Reply, reply, whole, with_policy, words};
use super::shared::Shared;
use crate::engine::cautions::FIRST;
use hyper::StatusCode;
use minijinja::{Environment, context};
use std::sync::PoisonError;

const PAGE: &str = include_str!("page/page.html");
const STYLE: &str = include_str!("page/page.css");
const SCRIPT: &str = include_str!("page/page.js");

/// The page.
pub(super) fn page(shared: &Shared) -> Reply {
    let made = nonce().map_err(|error| error.to_string());
    let made = made.and_then(|nonce| {
        let html = html(shared, &nonce).map_err(|error| error.to_string())?;
        Ok((html, nonce))
    });
    match made {
        Ok((html, nonce)) => {
            let page = reply(StatusCode::OK, "text/html; charset=utf-8", whole(html));
            with_policy(page, &policy(&nonce))
        }
        Err(error) => words(StatusCode::INTERNAL_SERVER_ERROR, &error),
    }
}

/// Only what this page brings along, and only pictures from where it came.
fn policy(nonce: &str) -> String {
    format!(
        "default-src 'none'; style-src 'nonce-{nonce}'; script-src 'nonce-{nonce}'; \
         connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; \
         frame-ancestors 'none'"
    )
}

/// Used once (Content Security Policy 3, 7.1): 128 random bits.
fn nonce() -> Result<String, getrandom::Error> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes)?;
    Ok(hex::encode(bytes))
}

fn html(shared: &Shared, nonce: &str) -> Result<String, minijinja::Error> {
    let cautions = shared.cautions.lock();
    let cautions = cautions.unwrap_or_else(PoisonError::into_inner).clone();
    let mut environment = Environment::new();
    environment.add_template("page.html", PAGE)?;
    environment.get_template("page.html")?.render(context! {
        nonce,
        style => STYLE,
        script => SCRIPT,
        control => shared.control,
        first => FIRST,
        cautions,
    })
}
