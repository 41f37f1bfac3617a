//! What a person types: arguments are parsed, resolved into a plan, and the plan is run; one file per subcommand.

mod args;
mod colour;
mod compare;
mod exit;
mod explain;
mod inspect;
mod interrupt;
mod measure;
mod next_time;
mod output;
mod pictures;
mod plan;
mod progress;
mod report;
mod review;
mod season;
mod second;
mod sessions;
mod shell;
mod summary;

use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches};

/// The program's name.
const NAME: &str = "toeline";

/// The command line as it is defined, for completions, manuals and tests.
pub fn definition() -> clap::Command {
    args::Args::command()
}

/// Runs the program.
pub fn main() -> ExitCode {
    output::panic_in_one_line();
    let colour = colour::Colour::asked_for(std::env::args_os());
    colour.settle();
    let parsed = definition().color(colour.of_help()).try_get_matches();
    let args = match parsed.and_then(|matches| args::Args::from_arg_matches(&matches)) {
        Ok(args) => args,
        Err(error) => return usage(&error),
    };
    let outcome = match args.command {
        args::Command::Measure(args) => plan::Plan::resolve(*args).and_then(|plan| measure::run(&plan)),
        args::Command::Season(args) => season::run(*args),
        args::Command::Compare(args) => compare::run(&args),
        args::Command::Inspect(args) => inspect::run(&args),
        args::Command::Explain(args) => explain::run(args.words().as_deref()),
        args::Command::Completions(args) => shell::completions(args.shell),
        args::Command::Man(args) => shell::manual(args.command.as_deref(), args.out.as_deref()),
    };
    match outcome {
        Ok(exit) => exit.into(),
        Err(error) => {
            output::error(&error);
            error.exit().into()
        }
    }
}

/// Help and versions go to standard output and are no failure; what is wrong with the arguments goes to standard error.
fn usage(error: &clap::Error) -> ExitCode {
    // A reader that has gone away, as in `toeline --help | head -1`, is no failure either.
    let _ = error.print();
    if error.use_stderr() { exit::Exit::Usage.into() } else { exit::Exit::Done.into() }
}
