//! A client that costs next to nothing: one connection, kept, and no more of HTTP than is needed.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;

/// One connection to the service.
pub struct Client {
    stream: BufReader<TcpStream>,
    token: String,
}

impl Client {
    pub fn new(address: &str, token: &str) -> Self {
        let stream = TcpStream::connect(address).unwrap();
        stream.set_nodelay(true).unwrap();
        Self { stream: BufReader::new(stream), token: token.to_owned() }
    }

    pub fn get(&mut self, path: &str) -> (u16, String) {
        self.ask(&format!("GET {path} HTTP/1.1\r\n{}\r\n", self.head()))
    }

    pub fn post(&mut self, path: &str, key: &str, body: &str) -> (u16, String) {
        let length = body.len();
        self.ask(&format!(
            "POST {path} HTTP/1.1\r\n{}idempotency-key: {key}\r\n\
             content-type: application/json\r\ncontent-length: {length}\r\n\r\n{body}",
            self.head()
        ))
    }

    fn head(&self) -> String {
        format!("host: bench\r\nauthorization: Bearer {}\r\n", self.token)
    }

    fn ask(&mut self, request: &str) -> (u16, String) {
        self.stream.get_mut().write_all(request.as_bytes()).unwrap();
        let status = self.line().split(' ').nth(1).unwrap().parse().unwrap();
        let mut length = None;
        loop {
            let line = self.line().to_ascii_lowercase();
            if line.is_empty() {
                break;
            }
            if let Some(value) = line.strip_prefix("content-length:") {
                length = Some(value.trim().parse().unwrap());
            }
        }
        let body = match length {
            Some(length) => self.bytes(length),
            None => self.chunks(),
        };
        (status, String::from_utf8(body).unwrap())
    }

    fn line(&mut self) -> String {
        let mut line = String::new();
        self.stream.read_line(&mut line).unwrap();
        line.trim_end().to_owned()
    }

    fn bytes(&mut self, length: usize) -> Vec<u8> {
        let mut bytes = vec![0; length];
        self.stream.read_exact(&mut bytes).unwrap();
        bytes
    }

    /// A body that says its length piece by piece.
    fn chunks(&mut self) -> Vec<u8> {
        let mut body = Vec::new();
        loop {
            let length = usize::from_str_radix(&self.line(), 16).unwrap();
            body.extend(self.bytes(length));
            self.line();
            if length == 0 {
                return body;
            }
        }
    }
}
