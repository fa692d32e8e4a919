"""Writes mutants into Rust source so that each can be switched on while the program runs.

    (a + b)    becomes    (if crate::mutated(7) { (a) - (b) } else { a + b })

and likewise for the other kinds. Every place is enclosed in comments with its number, by which an error
of the compiler is traced back to the mutant that caused it.
"""

import re

import tree_sitter
import tree_sitter_rust

PARSER = tree_sitter.Parser(tree_sitter.Language(tree_sitter_rust.language()))
MARK = re.compile(rb"/\*<([\d ]+)\*/|/\*>\*/")
ASKED = b"crate::mutated(%d)"
# Where a mutant is found: which node of the tree its kind asks for.
NODES = {
    "BinaryOperator": ("binary_expression", "compound_assignment_expr"),
    "UnaryOperator": ("unary_expression",),
    "MatchArm": ("match_arm",),
    "FnValue": ("function_item",),
}

# Goes to the end of src/lib.rs. Where MUTANTS_REACHED names a file, it lists what was come to.
SWITCH = """
/// Whether this mutant is on.
#[doc(hidden)]
pub fn mutated(number: u32) -> bool {
    use std::sync::LazyLock;
    use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
    static ON: LazyLock<Option<u32>> = LazyLock::new(|| std::env::var("MUTANT").ok()?.parse().ok());
    static REACHED: LazyLock<Option<std::ffi::OsString>> =
        LazyLock::new(|| std::env::var_os("MUTANTS_REACHED"));
    static SEEN: [AtomicBool; 100_000] = [const { AtomicBool::new(false) }; 100_000];
    if let Some(path) = &*REACHED
        && !SEEN[number as usize].swap(true, Relaxed)
        && let Ok(mut file) = std::fs::OpenOptions::new().append(true).create(true).open(path)
    {
        drop(std::io::Write::write_all(&mut file, format!("{number}\\n").as_bytes()));
    }
    *ON == Some(number)
}
"""


def offset(source, place):
    """From line and column, both from 1 and in characters, to bytes."""
    lines = source.split(b"\n")
    before = sum(len(line) + 1 for line in lines[: place["line"] - 1])
    text = lines[place["line"] - 1].decode()
    return before + len(text[: place["column"] - 1].encode())


def node_of(tree, source, mutant):
    """The node that a mutant changes; none where it is of a kind that cannot be switched."""
    start, end = (offset(source, mutant["span"][side]) for side in ("start", "end"))
    node = tree.root_node.descendant_for_byte_range(start, end)
    if mutant["genre"] == "MatchArmGuard":
        return node if (node.start_byte, node.end_byte) == (start, end) else None
    # The type behind `impl` is one for the whole function.
    hidden = mutant["genre"] == "FnValue" and "impl " in mutant["function"]["return_type"]
    if mutant["genre"] not in NODES or hidden:
        return None
    operator = mutant["genre"].endswith("Operator")
    if operator and node.start_byte != start:
        return None
    while node and node.type not in NODES[mutant["genre"]]:
        node = None if operator and node.is_named else node.parent
    return node


def switched(source, mutants):
    """The source with its mutants, given by number, and the numbers of those that found no place."""
    tree = PARSER.parse(source)
    at, placeless = {}, set()
    for number, mutant in mutants.items():
        if node := node_of(tree, source, mutant):
            at.setdefault((node.start_byte, node.end_byte, node.type), []).append((number, mutant))
        else:
            placeless.add(number)
    return Rewriter(source, at).text(tree.root_node), placeless


class Rewriter:
    def __init__(self, source, at):
        self.source, self.at = source, at

    def text(self, node):
        """What a node reads with the mutants at it and within it."""
        here = self.mutants(node)
        guards = [found for found in here if found[1]["genre"] == "MatchArmGuard"]
        others = [found for found in here if found[1]["genre"] != "MatchArmGuard"]
        plain = self.inner(node, others)
        if others and node.type not in ("match_arm", "function_item"):
            plain = choice(plain, [(n, self.changed(node, mutant)) for n, mutant in others])
        if node.type == "match_expression":
            # That a match lacks an arm is told of the whole.
            arms = node.child_by_field_name("body").children
            lacking = [n for arm in arms if arm.type == "match_arm" for n, _ in self.mutants(arm)]
            plain = marked(lacking, plain)
        return choice(plain, [(n, mutant["replacement"].encode()) for n, mutant in guards])

    def mutants(self, node):
        return self.at.get((node.start_byte, node.end_byte, node.type), [])

    def inner(self, node, mutants):
        """What is within a node, one child after the other."""
        parts, end = [], node.start_byte
        for child in node.children:
            parts += [self.source[end : child.start_byte], self.child(node, child, mutants)]
            end = child.end_byte
        return b"".join(parts) + self.source[end : node.end_byte]

    def child(self, node, child, mutants):
        text = self.text(child)
        if node.type == "function_item" and mutants and child == node.child_by_field_name("body"):
            values = [
                marked([n], b"if %b { return %b; }" % (ASKED % n, mutant["replacement"].encode()))
                for n, mutant in mutants
            ]
            return b"{ " + b" ".join(values) + text[1:]
        if node.type == "match_arm" and mutants and child == node.child_by_field_name("pattern"):
            n = mutants[0][0]
            guard = child.child_by_field_name("condition")
            if guard is None:
                return text + marked([n], b" if !" + ASKED % n)
            pattern = self.source[child.start_byte : guard.start_byte]
            return pattern + marked([n], b"!%b && (%b)" % (ASKED % n, self.text(guard)))
        return text

    def changed(self, node, mutant):
        """A node with another operator, or without it."""
        operator = mutant["replacement"].encode()
        if node.type == "unary_expression":
            return self.text(node.children[-1])
        left, right = (self.text(node.child_by_field_name(side)) for side in ("left", "right"))
        if node.type == "compound_assignment_expr":
            return b"%b %b %b" % (left, operator, right)
        return b"(%b) %b (%b)" % (left, operator, right)


def choice(plain, changed):
    if not changed:
        return plain
    ways = [b"if %b { %b } else " % (ASKED % n, marked([n], text)) for n, text in changed]
    return marked([n for n, _ in changed], b"(" + b"".join(ways) + b"{ " + plain + b" })")


def marked(numbers, text):
    if not numbers:
        return text
    return b"/*<%b*/%b/*>*/" % (" ".join(map(str, numbers)).encode(), text)


def mutants_at(text, place):
    """Numbers of the innermost mutants around a place, in bytes, of a source with marks."""
    around = []
    for mark in MARK.finditer(text):
        if mark.start() > place:
            break
        if mark[1]:
            around.append({int(number) for number in mark[1].split()})
        else:
            around.pop()
    return around[-1] if around else set()
