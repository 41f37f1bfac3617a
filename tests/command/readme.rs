//! README and help say what the program does.

use std::fs;
use std::path::Path;

use toeline::page::CAUTIONS;

fn readme() -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap()
}

/// Command lines of the program in the text: in blocks of code, and between backticks.
fn command_lines(text: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for (place, part) in text.split("```").enumerate() {
        let spans: Vec<&str> = if place % 2 == 1 {
            part.lines().map(|line| line.split("  #").next().unwrap_or(line)).collect()
        } else {
            part.split('`').skip(1).step_by(2).collect()
        };
        lines.extend(spans.into_iter().map(|span| span.split_whitespace().collect::<Vec<_>>().join(" ")));
    }
    lines.retain(|line| line.starts_with("toeline ") || line.starts_with("target/release/toeline "));
    lines
}

#[test]
fn the_readme_can_be_read_in_one_go() {
    let lines = readme().lines().count();
    assert!(lines <= 200, "{lines} lines");
}

#[test]
fn every_command_line_in_the_readme_is_understood() {
    let lines = command_lines(&readme());
    assert!(lines.len() >= 8, "{lines:?}");
    for line in &lines {
        // What stands for a word, and where the answer goes, is not the program's business.
        let words = line.split(" > ").next().unwrap().split_whitespace();
        let words = words.map(|word| match word {
            "COMMAND" => "measure",
            "SHELL" => "bash",
            word => word,
        });
        let words: Vec<&str> = words.collect();
        match toeline::command::definition().try_get_matches_from(&words) {
            Err(error) if error.use_stderr() => panic!("{line}: {error}"),
            _ => {}
        }
    }
}

#[test]
fn every_option_in_the_readme_exists_and_every_option_is_explained_by_help() {
    let definition = toeline::command::definition();
    let mut known = vec!["help".to_owned()];
    for command in definition.get_subcommands() {
        for argument in command.get_arguments() {
            assert!(argument.get_help().is_some(), "{} {}", command.get_name(), argument.get_id());
            known.extend(argument.get_long().map(str::to_owned));
        }
        assert!(readme().contains(&format!("toeline {}", command.get_name())), "{}", command.get_name());
    }
    let readme = readme();
    let named = readme.split("--").skip(1).filter_map(|rest| {
        let end = rest.find(|c: char| !c.is_ascii_lowercase() && c != '-').unwrap_or(rest.len());
        (end > 1).then(|| &rest[..end])
    });
    let named: Vec<&str> = named.collect();
    assert!(named.len() > 20, "{named:?}");
    for option in named.into_iter().filter(|option| *option != "path") {
        assert!(known.iter().any(|known| known == option), "--{option}");
    }
}

#[test]
fn the_readme_has_the_programs_cautions() {
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let readme = words(&readme());
    for caution in CAUTIONS {
        assert!(readme.contains(words(caution).trim_end_matches('.')), "{caution}");
    }
}
