"""The list of commands that every machine goes through: pairs of a name and what is called, in a
folder that holds the corpus as `corpus`. What a command writes goes below `made`."""

import pathlib

SIGNER = "corpus/signer.key"
GUIDE = ["first-hour", "testing", "reading", "phone", "trouble", "words", "data", "card", "sensor"]
COMMANDS = [
    "guide", "demo", "practice", "cautions", "card", "scan", "self-check", "sensors", "settings", "visit",
    "leak-down", "record", "import", "replay", "compare", "overview", "inspect", "verify", "sign", "key", "protocol",
    "simulate", "parquet", "completions", "manpages",
]  # fmt: skip


def of_recordings(corpus):
    for path in sorted((corpus / "recordings").glob("*.jsonl")):
        name, file = path.stem, f"corpus/recordings/{path.name}"
        report = f"made/{name}"
        yield f"{name}: findings and report", ["replay", file, "--json", "--report", report]
        yield f"{name}: table", ["replay", file, "--unit", "bar", "--also", "psi"]
        yield f"{name}: inspect", ["inspect", file]
        yield f"{name}: verify", ["verify", report, file]


def of_recipes(corpus):
    for path in sorted((corpus / "recipes").glob("*.recipe.toml")):
        name = path.name.removesuffix(".recipe.toml")
        yield f"{name}: simulate", ["simulate", f"corpus/recipes/{path.name}", "--out", "made/again"]


def others(corpus):
    at = "corpus/recordings"
    yield "demo", ["demo", "--folder", "made/demo"]
    yield "compare", ["compare", f"{at}/heron.jsonl", f"{at}/damaged-a-bit.jsonl"]
    yield "compare as JSON", ["compare", f"{at}/starter-twin.jsonl", f"{at}/starter-twin-following.jsonl", "--json"]
    yield "overview", ["overview", at, "--out", "made/overview"]
    yield "overview as JSON", ["overview", at, "--unit", "kPa", "--json"]
    yield "visit from a recording", ["visit", "--replay", f"{at}/wren.jsonl", "--speed", "0", "--plain", "--cautions-read"]
    yield "visit from a following one", [
        "visit", "--replay", f"{at}/starter-twin-following.jsonl", "--speed", "0", "--plain", "--cautions-read",
    ]  # fmt: skip
    yield "a report is not written over", ["replay", f"{at}/heron.jsonl", "--report", "made/heron"]
    yield "a report of another recording", ["verify", "made/heron", f"{at}/wren.jsonl"]
    yield "settings, none", ["settings"]
    yield "settings set", ["settings", "set", "unit", "bar"]
    yield "settings set also", ["settings", "set", "also", "psi"]
    yield "settings, two", ["settings"]
    yield "settings, used", ["replay", f"{at}/otter.jsonl"]
    yield "settings, wrong", ["settings", "set", "unit", "furlong"]
    yield "settings forget", ["settings", "forget", "unit"]
    yield "settings forget also", ["settings", "forget", "also"]
    yield "card, asked nothing", [
        "card", "made/mine.toml", "--no-questions", "--cylinders", "1 3 / 2 4", "--bore", "3.54 in", "--stroke", "94",
        "--ratio", "9:1", "--service-limit", "120 psi", "--altitude", "1115 ft",
    ]  # fmt: skip
    yield "card is kept", ["card", "made/mine.toml", "--no-questions"]
    yield "card, used", ["replay", f"{at}/wren.jsonl", "--card", "made/mine.toml"]
    yield "card ranges", ["card", "--ranges"]
    for card in sorted((corpus / "cards").glob("*.toml")):
        yield f"card {card.stem}", ["replay", f"{at}/starter-twin.jsonl", "--card", f"corpus/cards/{card.name}"]
    for sensor in sorted((corpus / "protocols").glob("*.toml")):
        yield f"protocol {sensor.stem}", ["protocol", "check", f"corpus/protocols/{sensor.name}"]
    yield "protocol decode", ["protocol", "decode", "corpus/protocols/environmental-sensing.toml", "02", "76", "0F", "00"]
    yield "protocol decode text", ["protocol", "decode", "corpus/protocols/text-lines.toml", "--text", "$PR,41,   101.33 kPa,21.5 C*4B"]
    yield "protocol schema", ["protocol", "schema"]
    yield "protocol example", ["protocol", "example"]
    yield "sign", ["sign", "made/again/heron.jsonl", "--key", SIGNER]
    yield "signature", ["verify", "made/heron", "made/again/heron.jsonl", "--public-key", f"{SIGNER}.pub"]
    yield "import", [
        "import", "corpus/tables/comma.csv", "--time", "1", "--pressure", "2", "--unit", "psi", "--started",
        "2026-05-01T09:00:00Z", "--out", "made/imported.jsonl",
    ]  # fmt: skip
    for table in sorted((corpus / "tables").iterdir()):
        yield f"import {table.name}", [
            "import", f"corpus/tables/{table.name}", "--time", "1", "--pressure", "2", "--unit", "bar", "--started",
            "2026-05-01T09:00:00Z", "--out", f"made/table-{table.stem}.jsonl",
        ]  # fmt: skip
    yield "cautions", ["cautions"]
    yield "sensors", ["sensors"]
    for page in GUIDE:
        yield f"guide {page}", ["guide", page]
    for command in COMMANDS:
        yield f"help {command}", [command, "--help"]
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"]:
        yield f"completions {shell}", ["completions", shell]
    yield "manpages", ["manpages", "made/man"]
    yield "nothing", []
    yield "no such command", ["repaly"]
    yield "no such recording", ["replay", "corpus/nowhere.jsonl"]
    yield "no such card", ["replay", f"{at}/otter.jsonl", "--card", "corpus/nowhere.toml"]
    yield "a picture as a card", ["replay", f"{at}/otter.jsonl", "--card", "made/heron/build-up.png"]
    yield "version", ["--version"]


def all_of(corpus):
    corpus = pathlib.Path(corpus)
    yield from of_recordings(corpus)
    yield from of_recipes(corpus)
    yield from others(corpus)
