//! Arguments in, window or command out.

fn main() {}
