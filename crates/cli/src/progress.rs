//! What takes a while says so on standard error, where that is a terminal.

use std::time::Duration;

use indicatif::ProgressBar;

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
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
