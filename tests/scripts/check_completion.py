#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Completion for bash and zsh, made from the help: commands, options of each command, files of its kind.

Usage: check_completion.py PROGRAM CELLS_FOLDER
"""
import os
import re
import subprocess
import sys
import tempfile

from checking import check, exit_status

AWK = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "scripts", "cmake", "completion.awk")
ANSWER = """source {file}
COMP_WORDS=({words})
COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1))
_cavum
printf '%s\\n' "${{COMPREPLY[@]}}"
"""
# A terminal of zsh's own: what it shows after two tabs.
ZSH = """zmodload zsh/zpty
zpty shell zsh -f -i
zpty -w shell 'PROMPT=; autoload -U compinit; compinit -D -u; source {file} 2>/dev/null; compdef _cavum cavum; \
zstyle ":completion:*" list-prompt ""; LISTMAX=10000; echo rea"dy"'
while zpty -r shell line; do [[ $line == *ready* ]] && break; done
zpty -w -n shell $'{typed}\\t\\t'
sleep 1
zpty -w shell $'\\x15echo en"ded"'
while zpty -r shell line; do print -r -- $line; [[ $line == *ended* ]] && break; done
"""


def text_of(command, **options):
    return subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True, **options).stdout


def bash_answers(file, folder, *words):
    """What bash offers in place of the last word."""
    quoted = " ".join("'" + word + "'" for word in ("cavum", *words))
    return text_of(["bash", "-c", ANSWER.format(file=file, words=quoted)], cwd=folder).split()


def options_of(program, command):
    """Options that the help lists, short ones of letters too."""
    head = text_of([program, command, "--help"]).split("\nExamples:")[0]
    found = set()
    for line in re.findall(r"^ {2,6}(-.*)$", head, re.M):
        names = re.split(r" {2,}", line)[0].split(", ")
        found |= {name.replace("[", "").replace("]", "") for name in names if "[=" in name and name.islower()}
        found |= {match[0] for match in (re.match(r"--?[A-Za-z][-A-Za-z]*", name) for name in names) if match}
    return found


def words_of(program, command, name):
    """The words of an option, as who gives a wrong one is told."""
    done = subprocess.run([program, command, "x", f"{name}=?"], capture_output=True, text=True, check=False)
    return re.split(r", | or ", done.stderr.split("\n")[0].split(": expected ")[1])


def check_words(program, file, folder):
    """Options that take one of some words: all are offered, and each is taken."""
    for command, name in (("draw", "--view"), ("draw", "--along-wall"), ("draw", "--field"), ("draw", "--size"),
                          ("draw", "--align"), ("coldtest", "--show"), ("mesh", "--unit")):
        expected = words_of(program, command, name)
        check(len(expected) > 1 and sorted(bash_answers(file, folder, command, name, "")) == sorted(expected),
              f"bash: words of {command} {name}: {expected}")
        check(sorted(bash_answers(file, folder, command, name, "=", "")) == sorted(expected), f"bash: {name}=")
        begun = expected[-1][:1]
        check(bash_answers(file, folder, command, name, "=", begun) == [w for w in expected if w.startswith(begun)],
              f"bash: words of {name} that begin with {begun}")
        for word in expected:
            done = subprocess.run([program, command, "none.hdf", "-o", "none.png", name, word], capture_output=True,
                                  text=True, check=False, cwd=folder)
            check(name + " " + word not in done.stderr, f"{command} {name} {word}: {done.stderr.splitlines()[:1]}")
    check(bash_answers(file, folder, "coldtest", "--show", "budgets,run") == ["budgets,runs"], "bash: the second of a list")
    check("--coupling=inner-cell" in bash_answers(file, folder, "solve", "--coup"), "bash: --coupling=inner-cell")
    listed = {name for command in ("solve", "draw", "coldtest", "mesh", "scan", "tune", "compare", "as-built", "steps")
              for name in re.findall(r"(--[a-z-]+)=(?:WORD|UNIT|PART,\.\.\.)", text_of([program, command, "--help"]))}
    check(listed == {"--view", "--along-wall", "--field", "--size", "--align", "--show", "--unit"},
          f"options of words that were looked at: {sorted(listed)}")


def check_bash(program, file, folder):
    commands = re.findall(r"^  ([a-z-]+) ", text_of([program, "--help"]).split("Commands:")[1], re.M)
    commands = commands[:commands.index("help") + 1]
    check(sorted(bash_answers(file, folder, "")) == sorted({*commands, "--help", "--usage", "-V", "--version"}),
          "bash: all commands")
    check(bash_answers(file, folder, "so") == ["solve"], "bash: the one that begins so")
    for command in commands[:-1]:
        offered = set(bash_answers(file, folder, command, "-"))
        check(offered == options_of(program, command), f"bash: options of {command}")
    check(sorted(bash_answers(file, folder, "solve", "")) == ["a.yaml", "folder"], "bash: cells and folders")
    check(sorted(bash_answers(file, folder, "draw", "")) == ["folder", "two words.hdf".split()[0], "words.hdf"],
          "bash: results, also with spaces in their names")
    check("note.txt" in bash_answers(file, folder, "draw", "b.hdf", "-o", ""), "bash: any file for an output")
    check(bash_answers(file, folder, "help", "dr") == ["draw"], "bash: commands after help")


def zsh_shows(file, folder, typed):
    script = ZSH.format(file=file, typed=typed)
    return text_of(["zsh", "-f", "-c", script], cwd=folder, stderr=subprocess.STDOUT, timeout=60)


def check_zsh(program, file, folder):
    subprocess.run(["zsh", "-n", file], check=True)
    shown = zsh_shows(file, folder, "cavum ")
    check(all(word in shown for word in ("solve", "coldtest", "gradient and Q0")), "zsh: commands with what they do")
    shown = zsh_shows(file, folder, "cavum draw --")
    missing = [name for name in options_of(program, "draw") if name.startswith("--") and name not in shown]
    check(not missing, f"zsh: options of draw {missing}")
    shown = zsh_shows(file, folder, "cavum solve a.")
    check("a.yaml" in shown, "zsh: cells")
    for command, name in (("draw", "--view"), ("coldtest", "--show")):
        shown = zsh_shows(file, folder, f"cavum {command} {name}=")
        missing = [word for word in words_of(program, command, name) if word not in shown]
        check(not missing, f"zsh: words of {name} {missing}")


def make(program, shell, folder):
    """As the build does."""
    commands = re.findall(r"^  ([a-z-]+) ", text_of([program, "--help"]).split("Commands:")[1], re.M)
    wide, texts = dict(os.environ, ARGP_HELP_FMT="rmargin=500"), []
    for command in ["", *commands[:commands.index("help")]]:
        texts.append(os.path.join(folder, "cavum" + ("-" + command if command else "") + ".1.txt"))
        with open(texts[-1], "w", encoding="utf-8") as file:
            file.write(text_of([program] + ([command] if command else []) + ["--help"], env=wide))
    path = os.path.join(folder, shell)
    with open(path, "w", encoding="utf-8") as file:
        file.write(text_of(["awk", "-v", f"shell={shell}", "-v", f"program={program}", "-f", AWK, *texts]))
    return path


def main():
    program = os.path.abspath(sys.argv[1])
    with tempfile.TemporaryDirectory() as made, tempfile.TemporaryDirectory() as folder:
        files = {shell: make(program, shell, made) for shell in ("bash", "zsh")}
        os.mkdir(os.path.join(folder, "folder"))
        for name in ("a.yaml", "two words.hdf", "note.txt"):
            with open(os.path.join(folder, name), "w", encoding="utf-8"):
                pass
        check_bash(program, files["bash"], folder)
        check_words(program, files["bash"], folder)
        check_zsh(program, files["zsh"], folder)
    return exit_status()


if __name__ == "__main__":
    sys.exit(main())
