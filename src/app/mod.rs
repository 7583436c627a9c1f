//! The window: the only room that sees egui.
