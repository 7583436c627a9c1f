//! Finished numbers, written down. Computes none.
