//! The `toeline` program: hands over to the library and turns its answer into an exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    toeline::command::main()
}
