#!/usr/bin/env python3
"""Writes man pages or shell completions from `pullrest --help-all`, the dump of the option tables.

usage: help_files.py PROGRAM VERSION KIND OUTPUT_FOLDER
KIND: man (pullrest.1 and one page per command), bash, zsh or fish. Files are named as they are
installed. Standard library only."""
import pathlib
import subprocess
import sys

CAUTION = (
    "What comes out is an estimate from plates and labels, not a rating. The manuals of the winch, "
    "the vehicle and the battery, local codes and licensed practice come first. Stand clear of the "
    "line by 1.5 to 2 of its lengths, lay a damper on it, wear gloves, never shock-load, keep the "
    "reserve wraps on the drum, and tell someone where you are."
)
EXIT = [
    ("0", "done"),
    ("1", "it worked, and the answer is no"),
    ("2", "bad usage or input; every mistake was said on standard error"),
    ("3", "a failure of the program, the disk or memory, or stopped on request"),
]
ENVIRONMENT = [
    ("PULLREST_MODELS", "folder of the catalogue, instead of the one beside the program"),
    ("PULLREST_PLOTS", "folder of the gnuplot scripts, likewise"),
    ("NO_COLOR", "when set and not empty, no colour on a terminal"),
]
# values that an option accepts, where they are few; file endings to offer else
CHOICES = {"metric|us": ["metric", "us"]}


class Command:
    def __init__(self, name, arguments, question, text):
        self.name, self.arguments, self.question, self.text = name, arguments, question, text
        self.options = []


def read_commands(program):
    result = subprocess.run([program, "--help-all"], check=True, capture_output=True, text=True)
    commands = []
    for line in result.stdout.splitlines():
        kind, *fields = line.split("\t")
        if kind == "command":
            commands.append(Command(*fields))
        else:
            commands[-1].options.append(fields[1:])  # name, letter, argument, help
    return commands


def choices(argument):
    if argument in CHOICES:
        return CHOICES[argument]
    return argument.split("|") if "|" in argument else []


# --- man pages -------------------------------------------------------------------------------


def roff(text):
    text = text.replace("\\", "\\e").replace("-", "\\-")
    return "\\&" + text if text[:1] in (".", "'") else text


def man_tail():
    lines = [".SH EXIT STATUS"]
    for code, text in EXIT:
        lines += [".TP", code, roff(text)]
    lines.append(".SH ENVIRONMENT")
    for name, text in ENVIRONMENT:
        lines += [".TP", f".B {name}", roff(text)]
    lines += [".SH CAUTION", roff(CAUTION)]
    return lines


def man_option(name, letter, argument, text):
    short = f"\\fB\\-{letter}\\fR, " if letter else ""
    value = f" \\fI{roff(argument)}\\fR" if argument else ""
    return [".TP", f"{short}\\fB\\-\\-{roff(name)}\\fR{value}", roff(text)]


def man_command(command, version, others):
    lines = [
        f'.TH PULLREST\\-{command.name.upper()} 1 "" "pullrest {version}" "User commands"',
        ".SH NAME",
        f"pullrest\\-{command.name} \\- {roff(command.question)}",
        ".SH SYNOPSIS",
        f".B pullrest {command.name}",
        f"[\\fIOPTION\\fR]... {roff(command.arguments)}",
        ".SH DESCRIPTION",
        roff(command.text or command.question),
        ".SH OPTIONS",
    ]
    for option in command.options:
        lines += man_option(*option)
    lines += man_tail()
    see = ["pullrest (1)"] + [f"pullrest\\-{o.name} (1)" for o in others if o is not command]
    lines.append(".SH SEE ALSO")
    lines += [f".BR {page}{',' if page is not see[-1] else ''}" for page in see]
    return lines


def man_main(commands, version):
    lines = [
        f'.TH PULLREST 1 "" "pullrest {version}" "User commands"',
        ".SH NAME",
        "pullrest \\- how long to pull and how long to rest when a vehicle winches itself out",
        ".SH SYNOPSIS",
        ".B pullrest",
        "\\fICOMMAND\\fR [\\fIOPTION\\fR]... [\\fIFILE\\fR]...",
        ".SH DESCRIPTION",
        "From the numbers on the plates and labels of a vehicle, its winch, battery, alternator",
        "and cables, and from what it is stuck in, tells how long to pull, how long to rest, at",
        "what engine speed, so that neither engine, winch motor nor the battery that has to",
        "restart it is lost.",
        ".SH COMMANDS",
    ]
    for command in commands:
        lines += [".TP", f".B {command.name} {roff(command.arguments)}", roff(command.question)]
    lines += man_tail() + [".SH SEE ALSO"]
    pages = [f".BR pullrest\\-{c.name} (1)" for c in commands]
    lines += [p + "," for p in pages[:-1]] + [pages[-1]]
    return lines


def write_man(commands, version, folder):
    write(folder / "pullrest.1", man_main(commands, version))
    for command in commands:
        write(folder / f"pullrest-{command.name}.1", man_command(command, version, commands))


# --- completions -----------------------------------------------------------------------------


def write_bash(commands, _version, folder):
    lines = [
        "# bash completion of pullrest; made from its option tables",
        "_pullrest() {",
        "    local current=${COMP_WORDS[COMP_CWORD]} previous=${COMP_WORDS[COMP_CWORD-1]}",
        "    local command=${COMP_WORDS[1]} words=",
        "    COMPREPLY=()",
        "    if [ \"$COMP_CWORD\" -eq 1 ]; then",
        f"        words='{' '.join(c.name for c in commands)} --help --version'",
        "    else",
        "        case $command,$previous in",
    ]
    for command in commands:
        for name, letter, argument, _ in command.options:
            if choices(argument):
                words = " ".join(choices(argument))
                keys = f"{command.name},--{name}" + (f"|{command.name},-{letter}" if letter else "")
                lines.append(f"        {keys}) words='{words}' ;;")
    lines += ["        *)", "            case $command in"]
    for command in commands:
        words = " ".join("--" + o[0] for o in command.options)
        lines.append(f"            {command.name}) [[ $current == -* ]] && words='{words}' ;;")
    lines += [
        "            esac ;;",
        "        esac",
        "    fi",
        "    if [ -n \"$words\" ]; then",
        "        mapfile -t COMPREPLY < <(compgen -W \"$words\" -- \"$current\")",
        "    else",
        "        mapfile -t COMPREPLY < <(compgen -f -- \"$current\")",
        "    fi",
        "}",
        "complete -o filenames -F _pullrest pullrest",
    ]
    write(folder / "pullrest", lines)


def zsh_quote(text):
    return text.replace("'", "'\\''").replace("[", "\\[").replace("]", "\\]").replace(":", "\\:")


def write_zsh(commands, _version, folder):
    lines = ["#compdef pullrest", "# made from the option tables of pullrest", "_pullrest() {"]
    lines += ["    local -a commands=("]
    lines += [f"        '{c.name}:{zsh_quote(c.question)}'" for c in commands]
    lines += [
        "    )",
        "    if (( CURRENT == 2 )); then",
        "        _describe command commands",
        "        return",
        "    fi",
        "    local command=$words[2]",
        "    shift words; (( CURRENT-- ))",
        "    case $command in",
    ]
    for command in commands:
        lines.append(f"    {command.name})")
        lines.append("        _arguments \\")
        for name, _, argument, text in command.options:
            value = ""
            if argument:
                among = choices(argument)
                action = f"({' '.join(among)})" if among else "_files"
                value = f":{zsh_quote(argument)}:{action}"
            lines.append(f"            '--{name}[{zsh_quote(text)}]{value}' \\")
        lines += ["            '*:file:_files'", "        ;;"]
    lines += ["    esac", "}", '_pullrest "$@"']
    write(folder / "_pullrest", lines)


def fish_quote(text):
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'") + "'"


def write_fish(commands, _version, folder):
    lines = ["# made from the option tables of pullrest"]
    for command in commands:
        lines.append(
            "complete -c pullrest -n __fish_use_subcommand -f "
            f"-a {command.name} -d {fish_quote(command.question)}"
        )
    for command in commands:
        for name, letter, argument, text in command.options:
            short = f" -s {letter}" if letter else ""
            value = ""
            if argument:
                among = choices(argument)
                value = f" -x -a {fish_quote(' '.join(among))}" if among else " -r"
            lines.append(
                f"complete -c pullrest -n '__fish_seen_subcommand_from {command.name}' "
                f"-l {name}{short}{value} -d {fish_quote(text)}"
            )
    write(folder / "pullrest.fish", lines)


def write(path, lines):
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def main():
    program, version, kind, folder = sys.argv[1:]
    writers = {"man": write_man, "bash": write_bash, "zsh": write_zsh, "fish": write_fish}
    writers[kind](read_commands(program), version, pathlib.Path(folder))


if __name__ == "__main__":
    main()
