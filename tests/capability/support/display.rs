//! A display of its own (Xvfb) for the real window.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// A process that ends with its guard.
pub struct Running(pub Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A display of its own, and its name.
pub fn display() -> (Running, String) {
    let mut server = Command::new("Xvfb")
        .args(["-displayfd", "1", "-screen", "0", "1280x800x24", "-nolisten", "tcp"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .map(Running)
        .expect("Xvfb is one of the packages of .ci/packages");
    let mut number = String::new();
    BufReader::new(server.0.stdout.take().unwrap()).read_line(&mut number).unwrap();
    (server, format!(":{}", number.trim()))
}

/// Starts the program that `command` names on a library, its window on that display.
pub fn open_window(mut command: Command, display: &str, library: &Path) -> Running {
    let program = command
        .arg("--library")
        .arg(library)
        .env("DISPLAY", display)
        .env("LIBGL_ALWAYS_SOFTWARE", "1")
        .env_remove("WAYLAND_DISPLAY")
        .stderr(Stdio::null())
        .spawn();
    Running(program.unwrap())
}
