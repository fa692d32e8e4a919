//! The worked examples of `protocol/README.md` come out as printed there.

use std::process::Command;

const README: &str = include_str!("../../protocol/README.md");

#[test]
fn worked_examples_are_what_the_command_prints() {
    let mut examples = 0;
    for block in README.split("```\n$ needlerest ").skip(1) {
        let block = block.split("```").next().unwrap();
        let (command, printed) = block.split_once('\n').unwrap();
        let output = Command::new(env!("CARGO_BIN_EXE_needlerest"))
            .args(command.split(' '))
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .unwrap();
        assert_eq!(
            String::from_utf8(output.stdout).unwrap(),
            printed,
            "{command}"
        );
        assert!(output.status.success());
        examples += 1;
    }
    assert_eq!(examples, 9);
}
