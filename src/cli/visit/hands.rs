//! What the user's keys do.

use crate::session::{Command, Stage, Trouble};
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

/// What a key asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::cli) enum Wish {
    /// Something of the session.
    Session(Command),
    /// Turn the practice engine over.
    Kick,
    /// Let the practice tester's pressure go.
    Bleed,
    /// Stop here; the recording is kept.
    Stop,
    /// Show what has changed (a page, the text being typed).
    Redraw,
}

/// What is being typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Typing {
    Name,
    Note,
}

/// The keyboard's state.
#[derive(Clone, Debug, Default)]
pub(super) struct Hands {
    practice: bool,
    /// A recording is replayed: it can be watched and left, not changed.
    replayed: bool,
    /// The gauge is shared with phones.
    shared: bool,
    typing: Option<(Typing, String)>,
    /// A key that must be pressed twice was pressed once.
    armed: Option<char>,
    /// The page of keys is shown.
    pub(super) help: bool,
    /// First line of that page that is shown, and of its last screen.
    pub(super) help_line: usize,
    pub(super) help_last: usize,
    /// First line of the cautions that is shown, and of their last page.
    pub(super) caution_line: usize,
    pub(super) caution_last: usize,
    /// The page with the phone's address is shown.
    pub(super) phone: bool,
    /// What was pressed on a phone last, and when in microseconds of the recording.
    pub(super) pressed: Option<(u64, String)>,
}

/// Longest name or note.
const LONGEST: usize = 200;

/// Every key while a recording is replayed.
const REPLAY_KEYS: [(&str, &str); 3] = [
    ("m", "with --share: the phone's address again"),
    ("?", "this page"),
    ("q", "stop watching; the recording stays as it is"),
];

/// Every key, for the page of keys.
const ALL_KEYS: [(&str, &str); 21] = [
    ("Enter", "go on: read, bled, leave it so"),
    ("s", "skip: leave this run out"),
    ("r", "redo: this run again, or the one before"),
    ("n", "name the cylinder of this run, or of the one before"),
    ("c", "comment: write a note into the recording"),
    (
        "t",
        "the throttle was not wide open: the run is offered again",
    ),
    (
        "v",
        "voltage: the battery was weak; the run is offered again",
    ),
    ("u", "undo what the last of these keys did"),
    ("a", "aloud: say again what is to be done"),
    ("w", "plan a warm round over all cylinders"),
    ("o", "plan wet runs (a little oil)"),
    ("i", "the oil of this wet run is in"),
    ("l", "leak-down test of the cylinder that is suspect"),
    ("k", "is the tester tight? fill it, shut it off, watch it"),
    ("1–6", "in a leak-down test: where air is heard"),
    ("p", "pause between two runs, and go on"),
    ("m", "with --share: the phone's address again"),
    (
        "f",
        "finish: no more runs, then the report (twice while runs are planned)",
    ),
    (
        "q",
        "stop here, twice; the recording is kept and can be resumed",
    ),
    ("Space", "practice: crank, kick or pull"),
    ("b", "practice: bleed, let the pressure go"),
];

impl Hands {
    pub(super) fn new(practice: bool, replayed: bool) -> Self {
        Self {
            practice,
            replayed,
            ..Self::default()
        }
    }

    /// The gauge is shared with phones: the page that says where comes first.
    pub(super) fn shared(self, shared: bool) -> Self {
        Self {
            shared,
            phone: shared,
            ..self
        }
    }

    /// What a key press asks for, in this stage.
    pub(super) fn press(&mut self, key: KeyEvent, stage: Stage) -> Option<Wish> {
        if key.kind == KeyEventKind::Release {
            return None;
        }
        if key.modifiers.contains(KeyModifiers::CONTROL) {
            return match key.code {
                KeyCode::Char('c' | 'd') => Some(Wish::Stop),
                _ => None,
            };
        }
        if self.help {
            let on = matches!(
                key.code,
                KeyCode::Char(' ') | KeyCode::Down | KeyCode::PageDown
            );
            if on && self.help_line < self.help_last {
                self.help_line = (self.help_line + 10).min(self.help_last);
            } else {
                (self.help, self.help_line) = (false, 0);
            }
            return Some(Wish::Redraw);
        }
        if std::mem::take(&mut self.phone) {
            return Some(Wish::Redraw);
        }
        if self.typing.is_some() {
            return self.typed(key.code);
        }
        if self.replayed {
            return self.watched(key.code);
        }
        if stage.shows_cautions() {
            return self.read(key.code, stage);
        }
        let armed = self.armed.take();
        match key.code {
            KeyCode::Enter => Some(Wish::Session(Command::Go)),
            KeyCode::Char(' ') if self.practice => Some(Wish::Kick),
            KeyCode::Char(letter) => self.letter(letter.to_ascii_lowercase(), stage, armed),
            _ => armed.map(|_| Wish::Redraw),
        }
    }

    fn letter(&mut self, letter: char, stage: Stage, armed: Option<char>) -> Option<Wish> {
        let twice = armed == Some(letter);
        let command = match letter {
            's' => Command::Skip,
            'r' => Command::Redo,
            't' => Command::Trouble(Trouble::Throttle),
            'v' => Command::Trouble(Trouble::Battery),
            'u' => Command::Undo,
            'a' => Command::Say,
            'w' => Command::Warm,
            'i' => Command::OilIn,
            'p' => Command::Pause,
            'o' => Command::Wet,
            'l' => Command::LeakDown(None),
            'k' => Command::CheckTester,
            '1'..='6' => {
                return nth(letter).map(|nth| Wish::Session(Command::HearNth(nth)));
            }
            'f' if twice || stage >= Stage::AirCautions => Command::Finish,
            'q' if twice || stage == Stage::Finished => return Some(Wish::Stop),
            'f' | 'q' => {
                self.armed = Some(letter);
                return Some(Wish::Redraw);
            }
            'b' if self.practice => return Some(Wish::Bleed),
            'm' if self.shared => return Some(self.show_phone()),
            'n' => return Some(self.begin(Typing::Name)),
            'c' => return Some(self.begin(Typing::Note)),
            '?' | 'h' => {
                self.help = true;
                return Some(Wish::Redraw);
            }
            _ => return armed.map(|_| Wish::Redraw),
        };
        Some(Wish::Session(command))
    }

    /// While a recording is replayed; nothing is lost by stopping it.
    fn watched(&mut self, code: KeyCode) -> Option<Wish> {
        match code {
            KeyCode::Char('q' | 'Q') => Some(Wish::Stop),
            KeyCode::Char('m') if self.shared => Some(self.show_phone()),
            KeyCode::Char('?' | 'h') => {
                self.help = true;
                Some(Wish::Redraw)
            }
            _ => None,
        }
    }

    fn show_phone(&mut self) -> Wish {
        self.phone = true;
        Wish::Redraw
    }

    fn begin(&mut self, what: Typing) -> Wish {
        self.typing = Some((what, String::new()));
        Wish::Redraw
    }

    /// Enter leads through all pages of the cautions before it acknowledges them.
    fn read(&mut self, code: KeyCode, stage: Stage) -> Option<Wish> {
        match code {
            KeyCode::Enter if self.caution_line >= self.caution_last => {
                // Other cautions may come later.
                self.caution_line = 0;
                Some(Wish::Session(Command::Go))
            }
            KeyCode::Enter | KeyCode::PageDown | KeyCode::Char(' ') => {
                self.caution_line = (self.caution_line + 10).min(self.caution_last);
                Some(Wish::Redraw)
            }
            KeyCode::Down => {
                self.caution_line = (self.caution_line + 1).min(self.caution_last);
                Some(Wish::Redraw)
            }
            KeyCode::Up => {
                self.caution_line = self.caution_line.saturating_sub(1);
                Some(Wish::Redraw)
            }
            KeyCode::PageUp => {
                self.caution_line = self.caution_line.saturating_sub(10);
                Some(Wish::Redraw)
            }
            KeyCode::Char('f' | 's') if stage == Stage::AirCautions => {
                Some(Wish::Session(Command::Finish))
            }
            KeyCode::Char('q') => Some(Wish::Stop),
            KeyCode::Char('m') if self.shared => Some(self.show_phone()),
            _ => None,
        }
    }

    fn typed(&mut self, code: KeyCode) -> Option<Wish> {
        let (what, text) = self.typing.as_mut()?;
        match code {
            KeyCode::Enter => {
                let text = text.trim().to_owned();
                let command = match what {
                    _ if text.is_empty() => None,
                    Typing::Name => Some(Command::Name(text)),
                    Typing::Note => Some(Command::Note(text)),
                };
                self.typing = None;
                Some(command.map_or(Wish::Redraw, Wish::Session))
            }
            KeyCode::Esc => {
                self.typing = None;
                Some(Wish::Redraw)
            }
            KeyCode::Backspace => {
                text.pop();
                Some(Wish::Redraw)
            }
            KeyCode::Char(letter) if text.chars().count() < LONGEST => {
                text.push(letter);
                Some(Wish::Redraw)
            }
            _ => None,
        }
    }

    pub(super) fn typing(&self) -> Option<(&'static str, String)> {
        self.typing.as_ref().map(|(what, text)| match what {
            Typing::Name => ("cylinder's name", text.clone()),
            Typing::Note => ("note", text.clone()),
        })
    }

    /// What a second press would do.
    pub(super) fn armed_words(&self) -> Option<String> {
        match self.armed {
            Some('f') => Some("f again: finish now, though runs are planned".to_owned()),
            Some(_) => Some("q again: stop here; what was recorded is kept".to_owned()),
            None => None,
        }
    }

    /// Every key, for the page of keys.
    pub(super) fn all_keys(&self) -> &'static [(&'static str, &'static str)] {
        if self.replayed {
            &REPLAY_KEYS
        } else {
            &ALL_KEYS
        }
    }

    /// The keys that matter in this stage.
    pub(super) fn keys(&self, stage: Stage) -> Vec<(&'static str, &'static str)> {
        if self.replayed {
            let mut keys = vec![("?", "keys"), ("q", "stop the replay")];
            if self.shared {
                keys.insert(0, ("m", "phone"));
            }
            return keys;
        }
        let mut keys = match stage {
            Stage::Cautions => vec![("Enter", "read")],
            Stage::Zero => vec![("c", "note"), ("p", "pause")],
            Stage::Ready => vec![
                ("i", "oil is in"),
                ("s", "skip"),
                ("r", "last again"),
                ("n", "name last"),
                ("p", "pause"),
            ],
            Stage::Climbing => vec![
                ("s", "skip"),
                ("r", "again"),
                ("t", "throttle"),
                ("v", "battery"),
            ],
            Stage::Hold | Stage::Bleed => vec![("r", "again"), ("t", "throttle"), ("n", "name")],
            Stage::AirCautions => vec![("Enter", "read"), ("f", "leave it")],
            Stage::Air => vec![
                ("Enter", "go on"),
                ("s", "skip"),
                ("r", "again"),
                ("f", "leave it"),
            ],
            Stage::Offer => vec![
                ("f", "finish"),
                ("l", "leak-down"),
                ("w", "warm"),
                ("o", "oil"),
                ("r", "again"),
                ("p", "pause"),
            ],
            Stage::Naming => vec![("n", "name it"), ("Enter", "leave it")],
            Stage::Finished => vec![("q", "close")],
        };
        let cranks = matches!(
            stage,
            Stage::Zero | Stage::Ready | Stage::Climbing | Stage::Hold | Stage::Bleed
        );
        if self.practice && cranks {
            keys.insert(0, ("b", "bleed"));
            keys.insert(0, ("Space", "crank"));
        }
        if self.shared {
            keys.push(("m", "phone"));
        }
        keys.extend([("?", "keys"), ("q", "stop")]);
        keys
    }
}

/// A number from 1, counted from 0.
fn nth(digit: char) -> Option<usize> {
    (digit.to_digit(10)? as usize).checked_sub(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn press(hands: &mut Hands, code: KeyCode, stage: Stage) -> Option<Wish> {
        hands.press(KeyEvent::new(code, KeyModifiers::NONE), stage)
    }

    #[test]
    fn the_cautions_are_read_to_their_end() {
        let mut hands = Hands {
            caution_last: 15,
            ..Hands::default()
        };
        let enter = |hands: &mut Hands| press(hands, KeyCode::Enter, Stage::Cautions);
        assert_eq!(enter(&mut hands), Some(Wish::Redraw));
        assert_eq!(enter(&mut hands), Some(Wish::Redraw));
        assert_eq!(enter(&mut hands), Some(Wish::Session(Command::Go)));
        assert_eq!(press(&mut hands, KeyCode::Char('f'), Stage::Cautions), None);
    }

    #[test]
    fn stopping_takes_two_presses_of_the_same_key() {
        let mut hands = Hands::default();
        let ready = Stage::Ready;
        assert_eq!(
            press(&mut hands, KeyCode::Char('q'), ready),
            Some(Wish::Redraw)
        );
        assert!(hands.armed_words().is_some());
        assert_eq!(
            press(&mut hands, KeyCode::Char('f'), ready),
            Some(Wish::Redraw)
        );
        assert_eq!(
            press(&mut hands, KeyCode::Char('f'), ready),
            Some(Wish::Session(Command::Finish))
        );
        let ctrl_c = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
        assert_eq!(hands.press(ctrl_c, ready), Some(Wish::Stop));
    }

    #[test]
    fn a_replay_is_watched_and_left() {
        let mut hands = Hands::new(false, true);
        for code in [KeyCode::Enter, KeyCode::Char('s'), KeyCode::Char('f')] {
            assert_eq!(press(&mut hands, code, Stage::Climbing), None);
        }
        let stop = press(&mut hands, KeyCode::Char('q'), Stage::Climbing);
        assert_eq!(stop, Some(Wish::Stop));
        assert!(hands.keys(Stage::Ready).iter().all(|(key, _)| *key != "s"));
    }

    #[test]
    fn letters_are_text_while_a_name_is_typed() {
        let mut hands = Hands::new(true, false);
        press(&mut hands, KeyCode::Char('n'), Stage::Ready);
        for letter in "lef q".chars() {
            assert_eq!(
                press(&mut hands, KeyCode::Char(letter), Stage::Ready),
                Some(Wish::Redraw)
            );
        }
        press(&mut hands, KeyCode::Backspace, Stage::Ready);
        press(&mut hands, KeyCode::Backspace, Stage::Ready);
        press(&mut hands, KeyCode::Char('t'), Stage::Ready);
        let name = Command::Name("left".to_owned());
        assert_eq!(
            press(&mut hands, KeyCode::Enter, Stage::Ready),
            Some(Wish::Session(name))
        );
        assert_eq!(
            press(&mut hands, KeyCode::Char(' '), Stage::Ready),
            Some(Wish::Kick)
        );
        assert_eq!(
            press(
                &mut Hands::new(false, false),
                KeyCode::Char(' '),
                Stage::Ready
            ),
            None
        );
    }
}
