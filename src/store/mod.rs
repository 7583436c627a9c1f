//! The library: the only room that knows SQL.
