//! Where packets come from: a radio link, a recording, a virtual sensor; one trait.
