//! Published values, and what follows exactly from published geometry, out of the program's own
//! code. More of them stand beside the code and in `stats`.

mod fits;
mod ground;
mod guides;
mod handbook;
mod reference_data;

#[track_caller]
fn near(got: f64, published: f64, within: f64) {
    assert!((got - published).abs() <= within, "got {got}, published {published}");
}

/// To the last digit printed: half a unit of it.
#[track_caller]
fn printed(got: f64, published: f64, decimals: i32) {
    near(got, published, 0.5001 * 10_f64.powi(-decimals));
}
