#!/usr/bin/python3
"""Puts the verbs into the manual, as the program's help tells them.

    manual.py PROGRAM docs/pullcurve.1

Rewrites what stands between the two marks of the manual; everything else is written by hand.
"""

import re
import subprocess
import sys

BEGIN = '.\\" verbs: made by `make manual` from the help of the program\n'
END = '.\\" end of verbs\n'
WIDTH = 78


def tell(program, *arguments):
    done = subprocess.run([program, "help", *arguments], capture_output=True, text=True, check=True)
    return done.stdout


def text_lines(text):
    """Text as lines of mdoc: a new sentence on a new line, nothing that could be a macro."""
    text = re.sub(r"\s+", " ", text).strip().replace("\\", "\\e")
    text = re.sub(r"`([^`]*)`", r"\\(lq\1\\(rq", text)
    text = re.sub(r"(?<=[a-z0-9)`\"\]])([.!?]) (?=[A-Z`\\-])", r"\1\n", text)
    lines = []
    for line in text.split("\n"):
        while len(line) > WIDTH:
            cut = line.rfind(" ", 0, WIDTH)
            if cut <= 0:
                break
            lines.append(line[:cut])
            line = line[cut + 1 :]
        lines.append(line)
    return [("\\&" if line[:1] in (".", "'") else "") + line for line in lines]


def operand_lines(operands):
    """`add NAME | list [PART]` as macros: one line a word, capitals are arguments."""
    lines = []
    for part in re.findall(r"\[[^\]]*\]|\||\S+", operands):
        if part == "|":
            lines[-1] += " |"
        elif part.startswith("["):
            inner = part[1:-1]
            lines.append(".Oo " + ("Ar " if inner.isupper() else "Cm ") + inner + " Oc")
        elif part.startswith("--"):
            lines.append(".Fl " + part[1:])
        else:
            lines.append((".Ar " if part.isupper() else ".Cm ") + part)
    return lines


def sentence(text):
    """Help's words as a sentence; what begins with a name in small letters stays as it is."""
    first = re.match(r"[a-z]+(?=[:,]| \()", text)
    if not first:
        text = text[0].upper() + text[1:]
    return text if text.endswith(".") else text + "."


def verb_lines(program, verb):
    head, _, options = tell(program, verb).partition("\nOptions:\n")
    usage, *paragraphs = head.rstrip("\n").split("\n\n")
    lines = [".Ss " + verb, ".Nm pullcurve", ".Cm " + verb, ".Op Ar option ..."]
    lines += operand_lines(usage.partition("[options]")[2])
    for paragraph in paragraphs:
        lines += [".Pp"] + text_lines(paragraph)
    lines.append(".Bl -tag -width Ds")
    option = r"^  --(\S+)(?: (\S.*?))?(?:\n {26}|  +)(\S.*(?:\n {26}.*)*)"
    for name, argument, text in re.findall(option, options, re.M):
        lines.append(".It Fl -" + name + (" Ar " + argument if argument else ""))
        lines += text_lines(sentence(re.sub(r"\s+", " ", text)))
    return lines + [".El"]


def main():
    program, path = sys.argv[1:]
    verbs = re.findall(r"^  ([a-z]+) ", tell(program).partition("\nVerbs:\n")[2], re.M)
    lines = [line for verb in verbs for line in verb_lines(program, verb)]
    with open(path, encoding="utf-8") as manual:
        before, mark, rest = manual.read().partition(BEGIN)
    _, end, after = rest.partition(END)
    if not mark or not end:
        sys.exit(path + ": the marks around the verbs are not there")
    with open(path, "w", encoding="utf-8") as manual:
        manual.write(before + BEGIN + "\n".join(lines) + "\n" + END + after)


if __name__ == "__main__":
    main()
