//! Puts the rooms together; jobs with progress and cancel. `app` and `cli` call the same
//! functions, so a number seen in both is computed once.
