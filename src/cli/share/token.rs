//! The secret part of the address: who knows it may look.

use subtle::ConstantTimeEq;

/// 26 letters and digits of five bits each: 128 bits and two. Without those that are taken for
/// another one when they are read off and typed.
const LETTERS: &[u8; 32] = b"abcdefghjkmnpqrstuvwxyz023456789";
const LENGTH: usize = 26;

/// The secret part of the address.
#[derive(Clone)]
pub(super) struct Token(String);

impl Token {
    /// A new one, of 130 random bits from the operating system.
    pub(super) fn new() -> Result<Self, getrandom::Error> {
        let mut bytes = [0; LENGTH];
        getrandom::fill(&mut bytes)?;
        let letter = |byte: &u8| char::from(LETTERS[usize::from(byte % 32)]);
        Ok(Self(bytes.iter().map(letter).collect()))
    }

    pub(super) fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether this is it, in a time that does not tell how much of it is right.
    pub(super) fn is(&self, tried: &str) -> bool {
        self.0.as_bytes().ct_eq(tried.as_bytes()).into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn no_two_are_alike_and_only_itself_is_it() {
        let tokens: Vec<Token> = (0..100).map(|_| Token::new().expect("chance")).collect();
        let different: BTreeSet<&str> = tokens.iter().map(Token::as_str).collect();
        assert_eq!(different.len(), 100);
        let letters: BTreeSet<&u8> = LETTERS.iter().collect();
        assert_eq!(letters.len(), 32);
        let token = &tokens[0];
        assert!(token.is(token.as_str()));
        let short = &token.as_str()[..LENGTH - 1];
        for wrong in [
            "",
            short,
            tokens[1].as_str(),
            &token.as_str().to_uppercase(),
        ] {
            assert!(!token.is(wrong), "{wrong}");
        }
    }
}
