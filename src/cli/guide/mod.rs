//! `guide`: the pages for whoever uses the program, built in, so that they can be
//! read offline.

use super::terminal::width;
use super::{Exit, Outcome};
use crate::cli::out;
use anstyle::Style;
use std::io::Write;

/// A page.
struct Page {
    name: &'static str,
    about: &'static str,
    text: &'static str,
}

const PAGES: [Page; 9] = [
    Page {
        name: "first-hour",
        about: "from nothing to a first report, for someone who never used a terminal",
        text: include_str!("first-hour.md"),
    },
    Page {
        name: "testing",
        about: "how to test an engine well, with the cautions",
        text: include_str!("testing.md"),
    },
    Page {
        name: "reading",
        about: "what the report says and what it does not",
        text: include_str!("reading.md"),
    },
    Page {
        name: "phone",
        about: "the gauge on your phone, at the engine",
        text: include_str!("phone.md"),
    },
    Page {
        name: "trouble",
        about: "something does not work: by symptom",
        text: include_str!("trouble.md"),
    },
    Page {
        name: "data",
        about: "reading strokes and samples in Python or a spreadsheet",
        text: include_str!("data.md"),
    },
    Page {
        name: "words",
        about: "the words that are used",
        text: include_str!("words.md"),
    },
    Page {
        name: "card",
        about: "every entry of a job card",
        text: include_str!("../../../protocol/job-card.md"),
    },
    Page {
        name: "sensor",
        about: "the protocol file: how to describe a sensor of your own",
        text: include_str!("../../../protocol/README.md"),
    },
];

/// Read the guide: first hour, testing an engine well, trouble by symptom
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest guide
  needlerest guide testing
  needlerest guide trouble | less")]
pub(super) struct Args {
    /// The page; without one, the list of pages
    #[arg(value_parser = PAGES.map(|page| page.name))]
    page: Option<String>,
}

pub(super) fn run(args: &Args) -> Outcome {
    let mut out = out::stdout();
    let wanted = args.page.as_deref();
    let Some(page) = PAGES.iter().find(|page| Some(page.name) == wanted) else {
        for page in &PAGES {
            writeln!(out, "needlerest guide {:<11} {}", page.name, page.about)?;
        }
        return Ok(Exit::Done);
    };
    for line in laid_out(page.text, width()) {
        match line {
            Line::Heading(text) => out.styled(Style::new().bold(), text)?,
            Line::Text(text) => write!(out, "{text}")?,
        }
        writeln!(out)?;
    }
    Ok(Exit::Done)
}

/// A line as it is read in a terminal.
#[derive(Debug, PartialEq)]
enum Line<'a> {
    Heading(&'a str),
    Text(String),
}

/// Markdown as it is read in a terminal: paragraphs filled, headings bold, the rest as it stands.
fn laid_out(text: &str, width: usize) -> Vec<Line<'_>> {
    let mut lines = Vec::new();
    let mut paragraph = String::new();
    let mut fenced = false;
    for line in text.lines() {
        let fence = line.starts_with("```");
        let heading = line.starts_with('#') && !fenced;
        let stands = fenced || fence || heading || line.starts_with('|') || line.is_empty();
        let item = line.trim_start().starts_with("- ");
        if stands || item {
            flush(&mut paragraph, &mut lines, width);
        }
        if fence {
            fenced = !fenced;
        } else if heading {
            lines.push(Line::Heading(line.trim_start_matches(['#', ' '])));
        } else if fenced {
            lines.push(Line::Text(format!("    {line}")));
        } else if stands {
            lines.push(Line::Text(line.to_owned()));
        } else {
            if !paragraph.is_empty() {
                paragraph.push(' ');
            }
            paragraph.push_str(line.trim());
        }
    }
    flush(&mut paragraph, &mut lines, width);
    lines
}

fn flush(paragraph: &mut String, lines: &mut Vec<Line<'_>>, width: usize) {
    if paragraph.is_empty() {
        return;
    }
    let further = if paragraph.starts_with("- ") {
        "  "
    } else {
        ""
    };
    let layout = textwrap::Options::new(width.min(100))
        .subsequent_indent(further)
        .word_splitter(textwrap::WordSplitter::NoHyphenation);
    let filled = textwrap::wrap(paragraph, layout);
    lines.extend(filled.iter().map(|line| Line::Text(line.to_string())));
    paragraph.clear();
}

#[cfg(test)]
mod tests {
    use super::{Line, laid_out};

    #[test]
    fn paragraphs_are_filled_and_code_is_not() {
        let text =
            "# Head\n\none two\nthree\n- item that\n  goes on\n\n```sh\n# code   stays\n```\n";
        let lines = laid_out(text, 80);
        assert_eq!(lines[0], Line::Heading("Head"));
        let expected = [
            "",
            "one two three",
            "- item that goes on",
            "",
            "    # code   stays",
        ];
        let expected = expected.map(|line| Line::Text(line.to_owned()));
        assert_eq!(lines[1..], expected);
    }
}
