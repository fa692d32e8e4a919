//! Where the gauge is shared: an address of this computer, on its own network at most.

use std::io::{self, BufRead, IsTerminal, Write};
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::str::FromStr;

use crate::cli::out;

/// Where to share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::cli) enum Place {
    /// Where a person says; on this computer alone, if there is nobody to ask.
    Asked,
    /// At this address of this computer; port 0 is any that is free.
    At(SocketAddr),
}

/// Only this computer itself.
const HERE: SocketAddr = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 0);

/// Stands for [`Place::Asked`] on the command line.
pub(super) const ASKED: &str = "ask";

impl FromStr for Place {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let place = match (text.parse(), text.parse()) {
            _ if text == ASKED => return Ok(Self::Asked),
            (Ok(place), _) => place,
            (_, Ok(address)) => SocketAddr::new(address, 0),
            _ => {
                return Err(
                    "give an address of this computer, such as 192.168.1.5 or 192.168.1.5:8023"
                        .to_owned(),
                );
            }
        };
        if may_be_shared_at(place.ip()) {
            Ok(Self::At(place))
        } else {
            Err(
                "the gauge is shared on one network of your own, or on this computer alone \
                 (127.0.0.1): this address is neither"
                    .to_owned(),
            )
        }
    }
}

/// Whether it is this computer alone, or an address of the kind that no router of the open net
/// passes on: RFC 1918 (private), RFC 3927 (link-local), RFC 6598 (shared), RFC 4193 (IPv6, private).
fn may_be_shared_at(address: IpAddr) -> bool {
    match address {
        IpAddr::V4(v4) => {
            let shared = matches!(v4.octets(), [100, 64..=127, ..]);
            v4.is_loopback() || v4.is_private() || v4.is_link_local() || shared
        }
        IpAddr::V6(v6) => v6.is_loopback() || v6.is_unique_local(),
    }
}

/// Where to share: as named; else as proposed, if a person confirms it; else on this computer alone.
pub(super) fn choose(place: Place) -> io::Result<SocketAddr> {
    if let Place::At(address) = place {
        return Ok(address);
    }
    let asked = io::stdin().is_terminal() && io::stderr().is_terminal();
    match asked.then(own_address).flatten() {
        Some(address) if confirmed(address)? => Ok(SocketAddr::new(address, 0)),
        _ => Ok(HERE),
    }
}

/// This computer's address on the network that it would use. Nothing is sent: a datagram socket is
/// only given a direction, towards an address that exists nowhere (RFC 5737).
fn own_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    let address = socket.local_addr().ok()?.ip();
    (may_be_shared_at(address) && !address.is_loopback()).then_some(address)
}

fn confirmed(address: IpAddr) -> io::Result<bool> {
    let mut err = out::stderr();
    err.line(format!("This computer is {address} on its network."))?;
    err.line(
        "Shared there, the gauge can be seen by any phone on that network that has the secret \
         address shown next; what is sent is not encrypted. Otherwise this computer alone sees it.",
    )?;
    write!(err, "Share it there? [y/N] ")?;
    err.flush()?;
    let mut answer = String::new();
    io::stdin().lock().read_line(&mut answer)?;
    Ok(matches!(
        answer.trim().to_ascii_lowercase().as_str(),
        "y" | "yes"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_addresses_of_an_own_network_are_taken() {
        for good in [
            "127.0.0.1",
            "192.168.1.5",
            "192.168.1.5:8023",
            "10.0.0.1",
            "172.20.10.2:80",
            "169.254.3.4",
            "100.64.0.1",
            "::1",
            "[fd00::5]:8023",
        ] {
            assert!(good.parse::<Place>().is_ok(), "{good}");
        }
        for bad in [
            "0.0.0.0",
            "::",
            "8.8.8.8",
            "172.32.0.1",
            "100.128.0.1",
            "2001:db8::1",
            "heron.jsonl",
            "control",
            "192.168.1.5:99999",
            "192.168.1.300",
            "",
        ] {
            assert!(bad.parse::<Place>().is_err(), "{bad}");
        }
    }

    #[test]
    fn nobody_asked_means_this_computer_alone() {
        let named = "192.168.1.5:8023".parse().expect("an address");
        assert_eq!(choose(Place::At(named)).expect("named"), named);
        assert_eq!(ASKED.parse(), Ok(Place::Asked));
        // Tests have no terminal, or one at which nobody sits: then they are not run like this.
        if !io::stdin().is_terminal() {
            assert!(choose(Place::Asked).expect("not asked").ip().is_loopback());
        }
    }
}
