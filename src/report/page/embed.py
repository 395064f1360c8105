#!/usr/bin/env python3
"""Puts the style and the scripts of the page into a C source, with their hashes for the content
security policy (SHA-256, base64, as CSP level 3 wants them).

Usage: embed.py OUTPUT STYLE.css SCRIPT.js..."""

import base64
import hashlib
import sys


def read(path):
    with open(path, encoding="utf-8", newline="") as file:
        text = file.read()
    # what the browser hashes is what it parsed: no CR, and nothing that ends the element
    assert "\r" not in text and "</s" not in text.lower() and "<!--" not in text, path
    return text


def emit(name, text):
    data = text.encode()
    digest = base64.b64encode(hashlib.sha256(data).digest()).decode()
    numbers = [f"{byte}," for byte in data] + ["0"]
    lines = ["".join(numbers[i:i + 24]) for i in range(0, len(numbers), 24)]
    return (f'const char pr_page_{name}_hash[] = "sha256-{digest}";\n'
            f"const char pr_page_{name}[] = {{\n" + "\n".join(lines) + "};\n")


def main():
    output, style, *scripts = sys.argv[1:]
    script = '"use strict";\n(function () {\n' + "".join(map(read, scripts)) + "})();\n"
    with open(output, "w", encoding="ascii") as file:
        file.write('#include "report/page_assets.h"\n\n')
        file.write(emit("style", read(style)))
        file.write(emit("script", script))


main()
