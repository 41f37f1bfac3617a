//! Completions, manual pages, colour.

use std::process::{Command, Output};

use crate::support::{entries, one_line, toeline};

fn commands() -> Vec<String> {
    toeline::command::definition().get_subcommands().map(|command| command.get_name().to_owned()).collect()
}

fn printed(arguments: &[&str]) -> String {
    let output = toeline().args(arguments).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn every_shell_completes_every_command() {
    let place = tempfile::tempdir().unwrap();
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let text = printed(&["completions", shell]);
        for command in commands() {
            assert!(text.contains(&command), "{shell} {command}");
        }
        assert!(text.contains("capture-fps"), "{shell}");
        let file = place.path().join(shell);
        std::fs::write(&file, text).unwrap();
        // Where the shell is here, it has to understand them.
        if let Ok(output) = Command::new(shell).arg("-n").arg(&file).output() {
            assert!(output.status.success(), "{shell}: {output:?}");
        }
    }
    assert_eq!(toeline().args(["completions", "abacus"]).output().unwrap().status.code(), Some(2));
}

#[test]
fn the_manual_has_a_page_for_every_command() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("man1");
    printed(&["man", "-o", folder.to_str().unwrap()]);
    let mut wanted: Vec<String> = commands().iter().map(|command| format!("toeline-{command}.1")).collect();
    wanted.push("toeline.1".to_owned());
    wanted.sort();
    assert_eq!(entries(&folder), wanted);
    assert!(printed(&["man"]).contains("130  interrupted"));
    assert_eq!(
        printed(&["man", "season"]),
        std::fs::read_to_string(folder.join("toeline-season.1")).unwrap()
    );
    let output = toeline().args(["man", "paint"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(one_line(&output).contains("measure, season"));
}

#[test]
fn colour_is_used_when_it_is_asked_for() {
    let run = |arguments: &[&str]| -> Output {
        toeline().args(["explain", "hand_behind_sholder_cm"]).args(arguments).output().unwrap()
    };
    let is_coloured = |output: &Output| output.stderr.contains(&0x1b);
    // Standard error is no terminal here.
    assert!(!is_coloured(&run(&[])));
    assert!(is_coloured(&run(&["--color", "always"])));
    assert!(!is_coloured(&run(&["--color=never"])));
    let always = String::from_utf8(run(&["--color=always"]).stderr).unwrap();
    assert!(always.starts_with("\u{1b}[1;31mtoeline:\u{1b}[0m there is no measure"), "{always}");
    // The program's help is coloured alike, and NO_COLOR counts less than the option.
    let help = |value: &str| {
        toeline().args(["--color", value, "--help"]).env("NO_COLOR", "1").output().unwrap().stdout
    };
    assert!(
        help("always").contains(&0x1b) && !help("never").contains(&0x1b) && !help("auto").contains(&0x1b)
    );
}
