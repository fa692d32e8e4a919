//! No circle inside a room: modules use each other one way only, as rooms do. A `pub use` is no use:
//! whoever imports by it uses the module behind.

use super::{code, rust_files, source};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// A module, or an item in one, as the names on the way to it.
type Way = Vec<String>;

/// Every module's code, by its way from the crate's root.
struct Modules(BTreeMap<Way, String>);

impl Modules {
    fn read() -> Self {
        let root = source();
        let files = rust_files(&root);
        let modules = files.iter().map(|file| {
            let way = way_of(file.strip_prefix(&root).expect("a file of the source"));
            (way, without_visibility(&code(file)))
        });
        Self(modules.collect())
    }

    /// What a path in `module` leads to, in names from the root; none for other crates.
    fn rooted(&self, module: &Way, path: &str) -> Option<Way> {
        let names: Way = path
            .split("::")
            .map(|name| name.trim().to_owned())
            .collect();
        let above = names.iter().take_while(|name| *name == "super").count();
        let (base, rest) = match names[0].as_str() {
            "crate" => (Vec::new(), 1),
            "self" => (module.clone(), 1),
            "super" => (module[..module.len().checked_sub(above)?].to_vec(), above),
            child => {
                let mut way = module.clone();
                way.push(child.to_owned());
                self.0.contains_key(&way).then_some(())?;
                (module.clone(), 0)
            }
        };
        Some([base, names[rest..].to_vec()].concat())
    }

    /// The module that an item is in, where need be behind `pub use`.
    fn module_of(&self, shown: &BTreeMap<Way, Way>, item: &Way) -> Option<Way> {
        let mut item = item.clone();
        for _ in 0..10 {
            let at = (1..=item.len())
                .rev()
                .find(|n| self.0.contains_key(&item[..*n]))?;
            match item.get(..=at).and_then(|key| shown.get(key)) {
                Some(behind) => item = [behind.clone(), item[at + 1..].to_vec()].concat(),
                None => return Some(item[..at].to_vec()),
            }
        }
        None
    }

    /// What every `pub use` shows: where it is seen, and where it is.
    fn shown(&self) -> BTreeMap<Way, Way> {
        let mut shown = BTreeMap::new();
        for (module, code) in &self.0 {
            for path in uses(code).into_iter().filter(|(public, _)| *public) {
                if let Some(behind) = self.rooted(module, &path.1) {
                    let name = behind.last().expect("a name").clone();
                    let seen = [module.clone(), vec![name]].concat();
                    if seen != behind {
                        shown.insert(seen, behind);
                    }
                }
            }
        }
        shown
    }

    /// What each module uses of its own room.
    fn used(&self) -> BTreeMap<Way, BTreeSet<Way>> {
        let shown = self.shown();
        let used = self.0.iter().map(|(module, code)| {
            let uses = uses(code).into_iter().filter(|(public, _)| !public);
            let paths = uses.map(|(_, path)| path).chain(inline_paths(code));
            let items = paths.filter_map(|path| self.rooted(module, &path));
            let modules = items.filter_map(|item| self.module_of(&shown, &item));
            let same = modules.filter(|other| other != module && other.first() == module.first());
            (module.clone(), same.collect())
        });
        used.collect()
    }
}

/// `signal/decide/run.rs` is `signal::decide::run`, `signal/mod.rs` is `signal`.
fn way_of(file: &Path) -> Way {
    let file = file.with_extension("");
    let names = file.iter().map(|name| name.to_string_lossy().into_owned());
    names.filter(|name| name != "mod").collect()
}

/// `pub(in crate::signal)` names a room without using it.
fn without_visibility(code: &str) -> String {
    let mut parts = code.split("pub(in ");
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        out.push_str("pub ");
        out.push_str(part.split_once(')').map_or(part, |(_, rest)| rest));
    }
    out.replace("pub(super)", "pub")
        .replace("pub(crate)", "pub")
}

/// Every path of every `use`, and whether it is a `pub use`.
fn uses(code: &str) -> Vec<(bool, String)> {
    let mut all = Vec::new();
    for statement in code.split(';') {
        let Some((before, tree)) = statement.rsplit_once("use ") else {
            continue;
        };
        let starts = before.is_empty() || before.ends_with(char::is_whitespace);
        if starts && !tree.contains(['=', '"']) {
            let public = before.trim_end().ends_with("pub");
            let tree: String = tree.split_whitespace().collect::<Vec<_>>().join(" ");
            all.extend(paths(&tree).into_iter().map(|path| (public, path)));
        }
    }
    all
}

/// `a::{b, c::{d, e}}` is `a::b`, `a::c::d` and `a::c::e`.
fn paths(tree: &str) -> Vec<String> {
    let Some((stem, list)) = tree.split_once('{') else {
        let path = tree.split(" as ").next().unwrap_or(tree);
        return vec![path.trim().trim_end_matches("::self").to_owned()];
    };
    let list = list.trim_end().strip_suffix('}').unwrap_or(list);
    let mut depth = 0_i32;
    let parts = list.split(|c| {
        depth += i32::from(c == '{') - i32::from(c == '}');
        c == ',' && depth == 0
    });
    let parts = parts.map(str::trim).filter(|part| !part.is_empty());
    parts
        .flat_map(|part| paths(&format!("{stem}{part}")))
        .collect()
}

/// Paths within the code, such as `super::words::clean`.
fn inline_paths(code: &str) -> Vec<String> {
    let name = |c: char| c.is_alphanumeric() || c == '_' || c == ':';
    let statements = code
        .split(';')
        .map(|statement| match statement.rsplit_once("use ") {
            Some((before, _)) if !uses(statement).is_empty() => before,
            _ => statement,
        });
    let words = statements.flat_map(|statement| statement.split(|c| !name(c)));
    let words = words.filter(|word| word.contains("::") && !word.ends_with(':'));
    words
        .filter(|word| !word.starts_with(':'))
        .map(str::to_owned)
        .collect()
}

/// Modules that lead back to where they began, if any do.
fn circle(used: &BTreeMap<Way, BTreeSet<Way>>) -> Option<Vec<Way>> {
    fn walk(
        at: &Way,
        used: &BTreeMap<Way, BTreeSet<Way>>,
        on_the_way: &mut Vec<Way>,
        done: &mut BTreeSet<Way>,
    ) -> Option<Vec<Way>> {
        if let Some(from) = on_the_way.iter().position(|way| way == at) {
            return Some(on_the_way[from..].to_vec());
        }
        if done.contains(at) {
            return None;
        }
        on_the_way.push(at.clone());
        let found = used[at]
            .iter()
            .find_map(|next| walk(next, used, on_the_way, done));
        on_the_way.pop();
        done.insert(at.clone());
        found
    }
    let mut done = BTreeSet::new();
    used.keys()
        .find_map(|from| walk(from, used, &mut Vec::new(), &mut done))
}

#[test]
fn no_circle_inside_a_room() {
    let found = circle(&Modules::read().used());
    let found = found.map(|ways| ways.iter().map(|way| way.join("::")).collect::<Vec<_>>());
    assert_eq!(
        found, None,
        "each of these modules uses the next, the last one the first"
    );
}

fn small(code: &[(&str, &str)]) -> Modules {
    let way = |name: &str| name.split("::").map(str::to_owned).collect();
    Modules(
        code.iter()
            .map(|(name, code)| (way(name), (*code).to_owned()))
            .collect(),
    )
}

#[test]
fn the_check_sees_circles() {
    let direct = [
        ("room::a", "use super::b::{self, Item};"),
        ("room::b", "fn f() { super::a::g() }"),
    ];
    assert!(circle(&small(&direct).used()).is_some());
    let shown = [
        ("room", "mod a;\npub use a::Item;"),
        ("room::a", "use super::b;"),
        ("room::b", "use super::Item;"),
    ];
    assert!(circle(&small(&shown).used()).is_some());
    let parent = [
        ("room", "mod a;\nfn f() { a::g() }\nstruct Item;"),
        ("room::a", "use super::Item;"),
    ];
    assert!(circle(&small(&parent).used()).is_some());
}

#[test]
fn the_check_lets_a_shown_item_pass() {
    let shown = [
        ("room", "mod a;\nmod b;\npub use a::Item;\nuse b::run;"),
        ("room::a", "struct Item;"),
        ("room::b", "use super::Item;"),
        ("other", "use crate::room::Item;"),
    ];
    assert_eq!(circle(&small(&shown).used()), None);
}
