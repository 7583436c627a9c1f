//! Arguments to one workflow request to printed lines.
