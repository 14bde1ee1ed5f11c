//! As much of HTTP as a client needs that wants to see every way in which an answer can fail.

use std::io::{BufRead, BufReader, Error, ErrorKind, Read, Result, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;

/// A request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ask {
    pub method: &'static str,
    pub path: String,
    /// Its idempotency key; empty for a request that changes nothing.
    pub key: String,
    /// Further headers, each with its line end.
    pub headers: String,
    pub body: String,
}

impl Ask {
    /// A request that looks.
    pub fn get(path: &str) -> Self {
        let (path, empty) = (path.to_owned(), String::new());
        Self { method: "GET", path, key: empty.clone(), headers: empty.clone(), body: empty }
    }

    fn bytes(&self, token: &str) -> Vec<u8> {
        let Self { method, path, key, headers, body } = self;
        let mut text = format!(
            "{method} {path} HTTP/1.1\r\nhost: shop\r\nauthorization: Bearer {token}\r\n{headers}"
        );
        if !key.is_empty() {
            let length = body.len();
            text.push_str(&format!("idempotency-key: {key}\r\ncontent-length: {length}\r\n"));
        }
        if !body.is_empty() {
            text.push_str("content-type: application/json\r\n");
        }
        format!("{text}\r\n{body}").into_bytes()
    }
}

/// What a request was told.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Told {
    /// An answer, whole.
    Answer(Answer),
    /// It was sent, at least in part, and no answer came.
    Nothing(String),
    /// Nobody could be reached.
    Unsent(String),
}

/// An answer.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Answer {
    pub status: u16,
    /// Whether it is an earlier answer, given again.
    pub is_replayed: bool,
    pub retry_after: Option<String>,
    pub etag: Option<String>,
    pub body: String,
}

/// One connection, kept and made anew where it broke.
#[derive(Debug)]
pub struct Client {
    address: SocketAddr,
    token: String,
    patience: Duration,
    stream: Option<BufReader<TcpStream>>,
}

impl Client {
    pub fn new(address: SocketAddr, token: &str, patience: Duration) -> Self {
        Self { address, token: token.to_owned(), patience, stream: None }
    }

    /// Speaks to another service from now on.
    pub fn turn_to(&mut self, address: SocketAddr) {
        if self.address != address {
            (self.address, self.stream) = (address, None);
        }
    }

    /// Asks and waits for the answer.
    pub fn ask(&mut self, ask: &Ask) -> Told {
        let mut stream = match self.connection() {
            Ok(stream) => stream,
            Err(error) => return Told::Unsent(error.to_string()),
        };
        let sent = stream.get_mut().write_all(&ask.bytes(&self.token));
        match sent.and_then(|()| answer(&mut stream)) {
            Ok((answer, is_kept)) => {
                self.stream = Some(stream).filter(|_| is_kept);
                Told::Answer(answer)
            }
            Err(error) => Told::Nothing(error.to_string()),
        }
    }

    /// Sends a request, or a share of it in hundredths, and goes away without an answer.
    pub fn go_away(&mut self, ask: &Ask, percent: u64) -> Told {
        let mut stream = match self.connection() {
            Ok(stream) => stream,
            Err(error) => return Told::Unsent(error.to_string()),
        };
        let bytes = ask.bytes(&self.token);
        let length = bytes.len() * usize::try_from(percent).unwrap() / 100;
        let sent = stream.get_mut().write_all(&bytes[..length]);
        Told::Nothing(format!("went away after {percent} %: {sent:?}"))
    }

    fn connection(&mut self) -> Result<BufReader<TcpStream>> {
        if let Some(stream) = self.stream.take() {
            return Ok(stream);
        }
        let stream = TcpStream::connect_timeout(&self.address, self.patience)?;
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(self.patience))?;
        stream.set_write_timeout(Some(self.patience))?;
        Ok(BufReader::new(stream))
    }
}

/// An answer, and whether the connection lives on.
fn answer(stream: &mut BufReader<TcpStream>) -> Result<(Answer, bool)> {
    let broken = || Error::new(ErrorKind::InvalidData, "no answer in HTTP");
    let status = line(stream)?.split(' ').nth(1).and_then(|status| status.parse().ok());
    let mut answer = Answer { status: status.ok_or_else(broken)?, ..Answer::default() };
    let (mut length, mut is_kept) = (None, true);
    loop {
        let line = line(stream)?;
        if line.is_empty() {
            break;
        }
        let (name, value) = line.split_once(':').ok_or_else(broken)?;
        let value = value.trim();
        match name.to_ascii_lowercase().as_str() {
            "content-length" => length = Some(value.parse().map_err(|_| broken())?),
            "connection" => is_kept = !value.eq_ignore_ascii_case("close"),
            "idempotency-replayed" => answer.is_replayed = value == "true",
            "retry-after" => answer.retry_after = Some(value.to_owned()),
            "etag" => answer.etag = Some(value.to_owned()),
            _ => {}
        }
    }
    let body = match length {
        Some(length) => bytes(stream, length)?,
        None => chunks(stream)?,
    };
    answer.body = String::from_utf8(body).map_err(|_| broken())?;
    Ok((answer, is_kept))
}

fn line(stream: &mut BufReader<TcpStream>) -> Result<String> {
    let mut line = String::new();
    if stream.read_line(&mut line)? == 0 {
        return Err(ErrorKind::UnexpectedEof.into());
    }
    Ok(line.trim_end().to_owned())
}

fn bytes(stream: &mut BufReader<TcpStream>, length: usize) -> Result<Vec<u8>> {
    let mut bytes = vec![0; length];
    stream.read_exact(&mut bytes)?;
    Ok(bytes)
}

/// A body that says its length piece by piece.
fn chunks(stream: &mut BufReader<TcpStream>) -> Result<Vec<u8>> {
    let mut body = Vec::new();
    loop {
        let length = usize::from_str_radix(&line(stream)?, 16);
        let length = length.map_err(|_| Error::from(ErrorKind::InvalidData))?;
        body.extend(bytes(stream, length)?);
        line(stream)?;
        if length == 0 {
            return Ok(body);
        }
    }
}
