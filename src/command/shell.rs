//! `toeline completions` and `toeline man`: made from the definition of the command line, so that they are never out of date.

use std::fs;
use std::io;
use std::path::Path;

use clap::Command;
use clap_complete::Shell;
use clap_mangen::Man;

use super::exit::{Exit, Result, UsageError};
use super::output;
use crate::table::TableError;

/// Prints completions for a shell.
///
/// # Errors
/// [`super::exit::PrintError`].
pub fn completions(shell: Shell) -> Result<Exit> {
    let mut text = Vec::new();
    clap_complete::generate(shell, &mut super::definition(), super::NAME, &mut text);
    output::print(&String::from_utf8_lossy(&text))?;
    Ok(Exit::Done)
}

/// Prints a page of the manual: the program's, or a command's; or writes all pages into a folder.
///
/// # Errors
/// [`UsageError`] for a command that there isn't; [`TableError::Write`].
pub fn manual(command: Option<&str>, folder: Option<&Path>) -> Result<Exit> {
    let pages = pages();
    if let Some(folder) = folder {
        let fail = |path: &Path| {
            let path = path.to_owned();
            move |source| TableError::Write { path, source }
        };
        fs::create_dir_all(folder).map_err(fail(folder))?;
        for page in &pages {
            let file = folder.join(format!("{}.1", name(page)));
            fs::write(&file, text(page).map_err(fail(&file))?).map_err(fail(&file))?;
        }
        return Ok(Exit::Done);
    }
    let wanted = command.unwrap_or(super::NAME);
    let page = pages.iter().find(|page| page.get_name() == wanted).ok_or_else(|| {
        let known: Vec<&str> = pages.iter().skip(1).map(Command::get_name).collect();
        UsageError(format!("there is no command `{wanted}`; use {}", known.join(", ")))
    })?;
    let text = text(page).map_err(super::exit::PrintError)?;
    output::print(&text)?;
    Ok(Exit::Done)
}

/// The program and its commands, each as what its page describes.
fn pages() -> Vec<Command> {
    let mut program = super::definition().disable_help_subcommand(true);
    // Global options reach the commands, and these their whole names, when the definition is built.
    program.build();
    let commands: Vec<Command> = program.get_subcommands().cloned().collect();
    [program].into_iter().chain(commands).collect()
}

/// A page's name: `toeline-measure`.
fn name(page: &Command) -> &str {
    page.get_display_name().unwrap_or_else(|| page.get_name())
}

fn text(page: &Command) -> io::Result<String> {
    let mut text = Vec::new();
    Man::new(page.clone()).source(concat!("toeline ", env!("CARGO_PKG_VERSION"))).render(&mut text)?;
    Ok(String::from_utf8_lossy(&text).into_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_has_a_page_with_its_options() {
        let pages = pages();
        let definition = super::super::definition();
        assert_eq!(pages.len(), definition.get_subcommands().count() + 1);
        for command in definition.get_subcommands() {
            let wanted = format!("toeline-{}", command.get_name());
            let page = text(pages.iter().find(|page| name(page) == wanted).unwrap()).unwrap();
            assert!(page.contains(".TH"), "{page}");
            for option in command.get_arguments().filter_map(clap::Arg::get_long) {
                assert!(page.contains(&format!("\\-\\-{}", option.replace('-', "\\-"))), "{option}: {page}");
            }
        }
    }
}
