//! The address that a request comes from: the peer's, or, where the peer is a proxy that is
//! trusted, the one that the proxy was asked from.
//!
//! Proxies tell it in `X-Forwarded-For` or `Forwarded` (RFC 7239), each behind those before it.
//! Whoever asks may write into both what they like, so they are read from their end, and no further
//! than to the first address that is not a trusted proxy's. Where both are there and tell of
//! different addresses, one of them is made up, and neither is believed.

use std::convert::Infallible;
use std::fmt;
use std::net::{IpAddr, SocketAddr};
use std::str::FromStr;

use axum::extract::{ConnectInfo, FromRequestParts, Request};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderName, header};

const FORWARDED_FOR: HeaderName = HeaderName::from_static("x-forwarded-for");

/// Addresses that begin alike: `192.0.2.0/24`, or one, `192.0.2.7`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Network {
    address: IpAddr,
    /// How many of its first bits they have in common.
    bits: u8,
}

impl Network {
    fn holds(&self, address: IpAddr) -> bool {
        let width = |address: IpAddr| if address.is_ipv4() { 32 } else { 128 };
        let number = |address: IpAddr| match address {
            IpAddr::V4(address) => u128::from(address.to_bits()),
            IpAddr::V6(address) => address.to_bits(),
        };
        let rest = width(self.address) - u32::from(self.bits);
        let start = |address| number(address).checked_shr(rest).unwrap_or(0);
        width(self.address) == width(address) && start(self.address) == start(address)
    }
}

impl FromStr for Network {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("found {text:?}, expected such as \"10.0.0.1\" or \"10.0.0.0/8\"");
        let (address, bits) = match text.split_once('/') {
            Some((address, bits)) => (address, Some(bits)),
            None => (text, None),
        };
        let address = address.parse::<IpAddr>().map_err(|_| wrong())?.to_canonical();
        let most = if address.is_ipv4() { 32 } else { 128 };
        let bits = bits.map_or(Ok(most), str::parse).map_err(|_| wrong())?;
        if bits > most { Err(wrong()) } else { Ok(Self { address, bits }) }
    }
}

impl fmt::Display for Network {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.address, self.bits)
    }
}

/// The address that a request comes from; nothing where the service is not told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct ClientAddress(pub Option<IpAddr>);

impl ClientAddress {
    /// Of a request, as far as its peer and these proxies are believed.
    pub(crate) fn of(request: &Request, trusted: &[Network]) -> Self {
        let peer = request.extensions().get::<ConnectInfo<SocketAddr>>();
        let Some(ConnectInfo(peer)) = peer else { return Self(None) };
        let peer = peer.ip().to_canonical();
        Self(Some(behind(peer, request.headers(), trusted)))
    }
}

impl fmt::Display for ClientAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.map_or(Ok(()), |address| address.fmt(f))
    }
}

/// As `request_log` has put it to the request.
impl<S: Send + Sync> FromRequestParts<S> for ClientAddress {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Infallible> {
        Ok(parts.extensions.get::<Self>().copied().unwrap_or_default())
    }
}

/// Who asked a proxy that is trusted, as it tells.
fn behind(peer: IpAddr, headers: &HeaderMap, trusted: &[Network]) -> IpAddr {
    let is_trusted = |address: IpAddr| trusted.iter().any(|network| network.holds(address));
    if !is_trusted(peer) {
        return peer;
    }
    let last = |name: HeaderName, read: fn(&str) -> Option<IpAddr>| {
        let lines = headers.get_all(&name).iter();
        let lines = lines.map(|line| line.to_str().unwrap_or_default());
        let hops: Vec<&str> = lines.flat_map(|line| line.split(',')).collect();
        let mut found = None;
        for hop in hops.iter().rev() {
            // What cannot be read was not written by a proxy that is believed.
            let Some(address) = read(hop.trim()) else { break };
            found = Some(address);
            if !is_trusted(address) {
                break;
            }
        }
        found
    };
    let of_header = (last(FORWARDED_FOR, address), last(header::FORWARDED, forwarded));
    match of_header {
        (Some(one), Some(other)) if one != other => peer,
        (Some(one), _) | (None, Some(one)) => one,
        (None, None) => peer,
    }
}

/// An address, with a port or without, in brackets or not.
fn address(text: &str) -> Option<IpAddr> {
    let bare = text.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')).unwrap_or(text);
    let whole = bare.parse::<IpAddr>().ok();
    let with_port = || text.parse::<SocketAddr>().ok().map(|address| address.ip());
    whole.or_else(with_port).map(|address| address.to_canonical())
}

/// The address of `for=`, of one hop of `Forwarded`.
fn forwarded(hop: &str) -> Option<IpAddr> {
    let mut pairs = hop.split(';').filter_map(|pair| pair.split_once('='));
    let (_, value) = pairs.find(|(name, _)| name.trim().eq_ignore_ascii_case("for"))?;
    address(value.trim().trim_matches('"'))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn seen(peer: &str, trusted: &[&str], headers: &[(&'static str, &str)]) -> String {
        let trusted: Vec<Network> = trusted.iter().map(|text| text.parse().unwrap()).collect();
        let mut map = HeaderMap::new();
        for (name, value) in headers {
            map.append(*name, value.parse().unwrap());
        }
        behind(peer.parse().unwrap(), &map, &trusted).to_string()
    }

    const TO: &str = "x-forwarded-for";

    #[test]
    fn nobody_is_believed_who_is_not_trusted() {
        for trusted in [&[][..], &["10.0.0.0/8", "2001:db8::/32"]] {
            let told = [(TO, "192.0.2.1"), ("forwarded", "for=192.0.2.1")];
            assert_eq!(seen("198.51.100.7", trusted, &told), "198.51.100.7");
        }
    }

    #[test]
    fn a_trusted_proxy_tells_who_asked_it() {
        let trusted = ["10.0.0.0/8", "192.0.2.9"];
        let through = |headers: &[(&'static str, &str)]| seen("10.1.2.3", &trusted, headers);
        assert_eq!(through(&[(TO, "203.0.113.5")]), "203.0.113.5");
        assert_eq!(through(&[(TO, "1.1.1.1, 203.0.113.5")]), "203.0.113.5", "the last");
        assert_eq!(through(&[(TO, "203.0.113.5, 192.0.2.9, 10.4.4.4")]), "203.0.113.5");
        assert_eq!(through(&[(TO, "1.1.1.1"), (TO, "203.0.113.5")]), "203.0.113.5");
        assert_eq!(through(&[(TO, "203.0.113.5:4711")]), "203.0.113.5");
        assert_eq!(through(&[(TO, "10.4.4.4")]), "10.4.4.4", "the proxy itself");
        assert_eq!(through(&[(TO, "unknown, 192.0.2.9")]), "192.0.2.9");
        for nothing in ["", "unknown", "\"", "999.1.1.1"] {
            assert_eq!(through(&[(TO, nothing)]), "10.1.2.3", "{nothing}");
        }
    }

    /// RFC 7239, section 4 and 6.
    #[test]
    fn forwarded_is_read_as_in_rfc_7239() {
        for (told, address) in [
            ("for=192.0.2.43", "192.0.2.43"),
            ("For=\"[2001:db8:cafe::17]:4711\"", "2001:db8:cafe::17"),
            ("for=192.0.2.60;proto=http;by=203.0.113.43", "192.0.2.60"),
            ("for=192.0.2.43, for=198.51.100.17", "198.51.100.17"),
            ("for=unknown", "10.1.2.3"),
            ("for=_hidden", "10.1.2.3"),
            ("by=203.0.113.43", "10.1.2.3"),
        ] {
            assert_eq!(seen("10.1.2.3", &["10.1.2.3"], &[("forwarded", told)]), address, "{told}");
        }
    }

    #[test]
    fn of_two_that_differ_neither_is_believed() {
        let both =
            |one, other| seen("10.1.2.3", &["10.0.0.0/8"], &[(TO, one), ("forwarded", other)]);
        assert_eq!(both("203.0.113.5", "for=203.0.113.5"), "203.0.113.5");
        assert_eq!(both("203.0.113.5", "for=198.51.100.1"), "10.1.2.3");
    }

    #[test]
    fn networks_are_read() {
        for wrong in ["", "10.0.0", "10.0.0.0/33", "::/129", "10.0.0.0/-1", "proxy", "10.0.0.0/8/8"]
        {
            assert!(wrong.parse::<Network>().is_err(), "{wrong}");
        }
        let holds = |network: &str, address: &str| {
            network.parse::<Network>().unwrap().holds(address.parse().unwrap())
        };
        assert!(holds("0.0.0.0/0", "203.0.113.5") && holds("::/0", "2001:db8::1"));
        assert!(!holds("0.0.0.0/0", "2001:db8::1"));
        assert!(holds("192.0.2.128/25", "192.0.2.200") && !holds("192.0.2.128/25", "192.0.2.1"));
        assert!(holds("2001:db8::/32", "2001:db8:1::1") && !holds("2001:db8::/32", "2001:db9::1"));
    }
}
