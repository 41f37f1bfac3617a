//! What a person types: one file per subcommand.

use std::process::ExitCode;

/// Runs the program.
pub fn main() -> ExitCode {
    ExitCode::SUCCESS
}
