//! The lines of `doors.txt`.

/// Somebody who comes to a door.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    Nobody,
    MadeUp,
    Read,
    Shelf,
    Setup,
    Revoked,
    TokenOver,
    Helper,
    Owner,
    Ended,
    SessionOver,
}

impl Who {
    pub const ALL: [Self; 11] = [
        Self::Nobody,
        Self::MadeUp,
        Self::Read,
        Self::Shelf,
        Self::Setup,
        Self::Revoked,
        Self::TokenOver,
        Self::Helper,
        Self::Owner,
        Self::Ended,
        Self::SessionOver,
    ];
}

/// What happens at a door.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pass {
    Yes,
    /// 401: nobody who is known.
    Unknown,
    /// 403: known, and not allowed.
    Forbidden,
    /// Led to where people sign in.
    Away,
}

/// Who may.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum May {
    All,
    Read,
    Shelf,
    Setup,
    Docs,
    People,
    Owners,
}

impl May {
    fn read(word: &str) -> Self {
        match word {
            "all" => Self::All,
            "read" => Self::Read,
            "shelf" => Self::Shelf,
            "setup" => Self::Setup,
            "docs" => Self::Docs,
            "people" => Self::People,
            "owners" => Self::Owners,
            other => panic!("nobody is called {other:?} in doors.txt"),
        }
    }

    pub fn of(self, who: Who) -> Pass {
        let scope = match who {
            Who::Read => 1,
            Who::Shelf => 2,
            Who::Setup => 3,
            _ => 0,
        };
        let with_token = |needs: u8| match scope {
            0 => Pass::Unknown,
            scope if scope < needs => Pass::Forbidden,
            _ => Pass::Yes,
        };
        match (self, who) {
            (Self::All, _)
            | (Self::Docs, Who::Helper | Who::Owner)
            | (Self::People, Who::Helper | Who::Owner)
            | (Self::Owners, Who::Owner) => Pass::Yes,
            (Self::Read | Self::Docs, _) => with_token(1),
            (Self::Shelf, _) => with_token(2),
            (Self::Setup, _) => with_token(3),
            (Self::Owners, Who::Helper) => Pass::Forbidden,
            (Self::People | Self::Owners, _) => Pass::Away,
        }
    }
}

/// What another shop's caller gets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Other {
    /// It is nobody's.
    Nobodys,
    Own,
    Status(u16),
}

/// One line.
#[derive(Debug, Clone)]
pub struct Row {
    pub method: String,
    pub path: String,
    pub may: May,
    pub other: Other,
    /// The address that is tried.
    pub tried: String,
}

impl Row {
    fn read(line: &str) -> Self {
        let words: Vec<&str> = line.split_whitespace().collect();
        let ([method, path, may, other], rest) = words.split_first_chunk().expect(line);
        let has_names = path.contains('{');
        assert!(!has_names || rest.len() == 1, "which address is tried? {line}");
        let other = match *other {
            "-" => Other::Nobodys,
            "own" => Other::Own,
            status => Other::Status(status.parse().expect(line)),
        };
        Self {
            method: (*method).to_owned(),
            path: (*path).to_owned(),
            may: May::read(may),
            other,
            tried: (*rest.first().unwrap_or(path)).to_owned(),
        }
    }

    /// What it is called in the router's list.
    pub fn name(&self) -> String {
        format!("{} {}", self.method, self.path)
    }

    /// Whether it changes nothing.
    pub fn looks(&self) -> bool {
        self.method == "GET"
    }

    /// Whether programs ask there, with a token.
    pub fn is_for_programs(&self) -> bool {
        self.path.starts_with("/api/") || self.path == "/metrics"
    }
}

/// Every line, in its order.
pub fn rows() -> Vec<Row> {
    let lines = include_str!("doors.txt").lines().map(str::trim);
    lines.filter(|line| !line.is_empty() && !line.starts_with('#')).map(Row::read).collect()
}
