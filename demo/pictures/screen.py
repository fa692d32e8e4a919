"""A terminal's screen (tmux capture-pane -e) on standard input to an HTML page on standard output."""

import html
import re
import sys

NAMED = ["#1b1f24", "#d1242f", "#2da44e", "#bf8700", "#218bff", "#a475f9", "#3192aa", "#d0d7de"]
BRIGHT = ["#57606a", "#fa4549", "#4ac26b", "#d4a72c", "#54aeff", "#c297ff", "#56d4dd", "#ffffff"]
CUBE = [0, 95, 135, 175, 215, 255]


def indexed(n):
    if n < 8:
        return NAMED[n]
    if n < 16:
        return BRIGHT[n - 8]
    if n < 232:
        n -= 16
        return "#%02x%02x%02x" % (CUBE[n // 36], CUBE[n // 6 % 6], CUBE[n % 6])
    return "#%02x%02x%02x" % ((8 + (n - 232) * 10,) * 3)


def extended(codes):
    """Colour after 38 or 48."""
    kind = codes.pop(0) if codes else 5
    if kind == 2:
        red, green, blue = (codes.pop(0) for _ in range(3))
        return "#%02x%02x%02x" % (red, green, blue)
    return indexed(codes.pop(0)) if codes else None


def apply(style, codes):
    codes = [int(code or 0) for code in codes]
    while codes:
        code = codes.pop(0)
        if code == 0:
            style.clear()
        elif code == 1:
            style["bold"] = True
        elif code == 2:
            style["dim"] = True
        elif code == 7:
            style["turned"] = True
        elif code == 22:
            style.pop("bold", None), style.pop("dim", None)
        elif code == 27:
            style.pop("turned", None)
        elif code in (38, 48):
            style["fg" if code == 38 else "bg"] = extended(codes)
        elif code == 39:
            style.pop("fg", None)
        elif code == 49:
            style.pop("bg", None)
        elif 30 <= code < 38 or 90 <= code < 98:
            style["fg"] = NAMED[code - 30] if code < 38 else BRIGHT[code - 90]
        elif 40 <= code < 48 or 100 <= code < 108:
            style["bg"] = NAMED[code - 40] if code < 48 else BRIGHT[code - 100]


def css(style):
    fg, bg = style.get("fg") or "#e6edf3", style.get("bg") or "#0d1117"
    if style.get("turned"):
        fg, bg = bg, fg
    rules = [f"color:{fg}", f"background:{bg}"]
    rules += ["font-weight:bold"] * bool(style.get("bold"))
    rules += ["opacity:.6"] * bool(style.get("dim"))
    return ";".join(rules)


style = {}
print("<meta charset=utf-8><style>body{margin:0;background:#0d1117;padding:14px}")
print("pre{font:16px/18px 'DejaVu Sans Mono',monospace;margin:0}span{display:inline-block;height:18px}</style><pre>", end="")
for line in sys.stdin.read().rstrip("\n").split("\n"):
    for part in re.split(r"(\x1b\[[0-9;:]*m)", line):
        if part.startswith("\x1b["):
            apply(style, re.split("[;:]", part[2:-1]))
        elif part:
            print(f'<span style="{css(style)}">{html.escape(part)}</span>', end="")
    print()
print("</pre>")
