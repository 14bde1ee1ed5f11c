//! What takes a while says so on standard error, where that is a terminal.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

/// Says what is done until it is dropped. Nothing is said where nobody watches.
pub(crate) struct Progress {
    bar: ProgressBar,
}

impl Progress {
    /// Begins with a first word on what is done.
    pub(crate) fn begin(what: &'static str) -> Self {
        let bar = ProgressBar::new_spinner().with_message(what);
        bar.enable_steady_tick(Duration::from_millis(100));
        Self { bar }
    }

    /// Says what is done now.
    pub(crate) fn now(&self, what: &'static str) {
        self.bar.set_message(what);
    }

    /// Says how many steps of how many are done, as a bar.
    pub(crate) fn step(&self, done: usize, of: usize) {
        if done == 0 {
            let style = ProgressStyle::with_template("{msg} {bar:30} {pos} of {len}");
            self.bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
            self.bar.set_length(of as u64);
        }
        // Steps are told from many threads: the largest number is the last.
        if done as u64 > self.bar.position() {
            self.bar.set_position(done as u64);
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
