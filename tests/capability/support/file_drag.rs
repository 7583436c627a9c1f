//! The other end of drag and drop on X11: a small client that carries a file to a window and
//! lets go of it there, as a file manager does.
//!
//! Source: "Drag-and-Drop Protocol for the X Window System" (XDND), version 5.

use std::path::Path;
use std::time::{Duration, Instant};

use x11rb::connection::Connection;
use x11rb::protocol::Event;
use x11rb::protocol::xproto::{
    Atom, ClientMessageEvent, ConnectionExt, CreateWindowAux, EventMask, PropMode,
    SELECTION_NOTIFY_EVENT, SelectionNotifyEvent, SelectionRequestEvent, Window, WindowClass,
};
use x11rb::rust_connection::RustConnection;
use x11rb::wrapper::ConnectionExt as _;

/// The protocol's version, as the first message states it.
const VERSION: u32 = 5;

struct Source {
    x: RustConnection,
    target: Window,
}

/// Drags `file` over `target` on `display` and lets go; `true` once the target has said that it
/// took it.
pub fn drop_file(display: &str, target: Window, file: &Path) -> bool {
    let (x, screen) = RustConnection::connect(Some(display)).unwrap();
    let root = x.setup().roots[screen].root;
    let window = x.generate_id().unwrap();
    let (class, aux) = (WindowClass::INPUT_ONLY, CreateWindowAux::new());
    x.create_window(0, window, root, 0, 0, 1, 1, 0, class, 0, &aux).unwrap();
    let source = Source { x, target };
    let list = source.atom("text/uri-list");
    let selection = source.atom("XdndSelection");
    source.x.set_selection_owner(window, selection, x11rb::CURRENT_TIME).unwrap();
    source.tell("XdndEnter", [window, VERSION << 24, list, 0, 0]);
    // In root coordinates, x in the upper half; the target is asked to copy.
    let copy = source.atom("XdndActionCopy");
    source.tell("XdndPosition", [window, 0, 400 << 16 | 300, x11rb::CURRENT_TIME, copy]);
    let address = format!("file://{}\r\n", file.display());
    if !source.serve("XdndStatus", address.as_bytes()) {
        return false;
    }
    source.tell("XdndDrop", [window, 0, x11rb::CURRENT_TIME, 0, 0]);
    source.serve("XdndFinished", address.as_bytes())
}

impl Source {
    fn atom(&self, name: &str) -> Atom {
        self.x.intern_atom(false, name.as_bytes()).unwrap().reply().unwrap().atom
    }

    fn tell(&self, what: &str, data: [u32; 5]) {
        let message = ClientMessageEvent::new(32, self.target, self.atom(what), data);
        self.x.send_event(false, self.target, EventMask::NO_EVENT, message).unwrap();
        self.x.flush().unwrap();
    }

    /// Hands out the address of the file to whoever asks, until the target has asked for it
    /// and says `word`; the word's second number tells whether it agrees.
    fn serve(&self, word: &str, address: &[u8]) -> bool {
        let word = self.atom(word);
        let end = Instant::now() + Duration::from_secs(20);
        let (mut asked, mut agreed) = (word == self.atom("XdndFinished"), None);
        while Instant::now() < end {
            match self.x.poll_for_event().unwrap() {
                Some(Event::SelectionRequest(request)) => {
                    self.hand_over(&request, address);
                    asked = true;
                }
                Some(Event::ClientMessage(message)) if message.type_ == word => {
                    agreed = Some(message.data.as_data32()[1] & 1 == 1);
                }
                Some(_) => {}
                None => std::thread::sleep(Duration::from_millis(20)),
            }
            if let Some(agreed) = agreed.filter(|_| asked) {
                return agreed;
            }
        }
        false
    }

    fn hand_over(&self, request: &SelectionRequestEvent, address: &[u8]) {
        let (to, at) = (request.requestor, request.property);
        self.x.change_property8(PropMode::REPLACE, to, at, request.target, address).unwrap();
        let done = SelectionNotifyEvent {
            response_type: SELECTION_NOTIFY_EVENT,
            sequence: 0,
            time: request.time,
            requestor: to,
            selection: request.selection,
            target: request.target,
            property: at,
        };
        self.x.send_event(false, to, EventMask::NO_EVENT, done).unwrap();
        self.x.flush().unwrap();
    }
}
