//! The needlerest program: everything is in the library.

fn main() -> std::process::ExitCode {
    needlerest::cli::main()
}
