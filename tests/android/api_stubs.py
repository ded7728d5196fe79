"""The public surface of an Android release as a jar of empty classes, made from its API signature file (format 2.0).

With the jar on the class path `javac` refuses whatever the release does not have; nothing in it can run (every body
throws). Class file format: The Java Virtual Machine Specification, Java SE 8, chapter 4. Generic signatures are kept
(4.7.9.1), so that javac checks type arguments too. The same reading of the file (`read_api`) judges the stand-ins and
the names used from Python.
"""

from __future__ import annotations

import ast
import functools
import re
import struct
import zipfile
from dataclasses import dataclass, field
from pathlib import Path

FLAGS = {
    "public": 0x1,
    "private": 0x2,
    "protected": 0x4,
    "static": 0x8,
    "final": 0x10,
    "synchronized": 0x20,
    "volatile": 0x40,
    "transient": 0x80,
    "native": 0x100,
    "abstract": 0x400,
}
WORDS = {*FLAGS, "default", "deprecated", "sealed"}
PRIMITIVES = dict(void="V", boolean="Z", byte="B", char="C", short="S", int="I", long="J", float="F", double="D")
KINDS = {"class": 0x20, "interface": 0x600, "@interface": 0x2600, "enum": 0x4030}
ANNOTATION = re.compile(r"@(?!interface\b)[\w.]+(?:\((?:[^()\"]|\"(?:[^\"\\]|\\.)*\"|\([^()]*\))*\))?\s*")
TOKEN = re.compile(r"\.\.\.|[\w$]+(?:\.[\w$]+)*|[<>,?&()\[\]]")


@dataclass
class Member:
    """One field, constant, constructor or method. `params` and `result` are (descriptor, signature) pairs."""

    name: str
    words: set[str]
    result: tuple[str, str]
    params: list[tuple[str, str]] | None = None
    type_params: str = ""
    throws: list[str] = field(default_factory=list)
    value: str | None = None

    @property
    def descriptor(self) -> str:
        if self.params is None:
            return self.result[0]
        return "(" + "".join(p[0] for p in self.params) + ")" + self.result[0]

    @property
    def signature(self) -> str:
        if self.params is None:
            return self.result[1]
        return self.type_params + "(" + "".join(p[1] for p in self.params) + ")" + self.result[1]


@dataclass
class Type:
    """One class, interface, annotation or enum of the API. `binary` is its name with / and $."""

    package: str
    name: str
    kind: str
    words: set[str]
    head: str
    lines: list[str] = field(default_factory=list)
    above: str = "java/lang/Object"
    interfaces: list[str] = field(default_factory=list)
    signature: str = ""
    api: dict[str, Type] = field(default_factory=dict, repr=False)
    scope: dict[str, str] = field(default_factory=dict, repr=False)

    @functools.cached_property
    def members(self) -> list[Member]:
        """Read when first asked for: most tests need a few types of thousands."""
        return [_read_member(self.api, self, line, self.scope) for line in self.lines]

    @property
    def full(self) -> str:
        return f"{self.package}.{self.name}"

    @property
    def binary(self) -> str:
        return self.package.replace(".", "/") + "/" + self.name.replace(".", "$")

    @property
    def is_interface(self) -> bool:
        return self.kind in ("interface", "@interface")


class Parser:
    """Reads types out of one line of tokens. `scope` maps a type variable to the descriptor of its bound."""

    def __init__(self, api: dict[str, Type], tokens: list[str], scope: dict[str, str]) -> None:
        self.api, self.tokens, self.scope, self.at = api, tokens, dict(scope), 0

    def peek(self) -> str:
        return self.tokens[self.at] if self.at < len(self.tokens) else ""

    def take(self) -> str:
        self.at += 1
        return self.tokens[self.at - 1]

    def accept(self, token: str) -> bool:
        if self.peek() == token:
            self.at += 1
            return True
        return False

    def binary(self, name: str) -> str:
        if name in self.api:
            return self.api[name].binary
        parts = name.split(".")
        first = next(i for i, p in enumerate(parts) if p[0].isupper())
        return "/".join(parts[:first] or ["java", "lang"]) + "/" + "$".join(parts[first:])

    def type(self) -> tuple[str, str]:
        name = self.take()
        if name in PRIMITIVES:
            descriptor = signature = PRIMITIVES[name]
        elif name in self.scope:
            descriptor, signature = self.scope[name], f"T{name};"
        else:
            inside = self.binary(name)
            descriptor, signature = f"L{inside};", f"L{inside}{self.arguments()};"
        dims = 0
        while self.peek() in ("[", "..."):
            dims += 1
            if self.take() == "[":
                self.take()
        return "[" * dims + descriptor, "[" * dims + signature

    def arguments(self) -> str:
        if not self.accept("<"):
            return ""
        found = []
        while not self.accept(">"):
            self.accept(",")
            if self.accept("?"):
                if self.accept("extends"):
                    found.append("+" + self.type()[1])
                elif self.accept("super"):
                    found.append("-" + self.type()[1])
                else:
                    found.append("*")
            else:
                found.append(self.type()[1])
        return "<" + "".join(found) + ">"

    def type_parameters(self) -> str:
        """`<T extends A & B, V>` into a signature; the variables are in scope from then on."""
        if not self.accept("<"):
            return ""
        start, depth, names = self.at, 1, []
        while depth:  # names first: a bound may speak of a later variable
            token = self.take()
            depth += {"<": 1, ">": -1}.get(token, 0)
            if depth == 1 and self.tokens[self.at - 2] in ("<", ",") and token not in "<>,":
                names.append(token)
        self.scope.update(dict.fromkeys(names, "Ljava/lang/Object;"))
        self.at, found = start, []
        while not self.accept(">"):
            self.accept(",")
            name, bounds = self.take(), []
            if self.accept("extends"):
                bounds.append(self.type())
                while self.accept("&"):
                    bounds.append(self.type())
            bounds = bounds or [("Ljava/lang/Object;", "Ljava/lang/Object;")]
            self.scope[name] = bounds[0][0]
            found.append(name + "".join(":" + signature for _, signature in bounds))
        return "<" + "".join(found) + ">"

    def types_until(self, *ends: str) -> list[tuple[str, str]]:
        found = []
        while self.peek() and self.peek() not in ends:
            if not self.accept(","):
                found.append(self.type())
        return found


def read_api(text: str) -> dict[str, Type]:
    """All types of a signature file by full name (`android.hardware.Sensor`), with their members."""
    api: dict[str, Type] = {}
    package, current = "", None
    for raw in text.splitlines():
        line = ANNOTATION.sub("", raw.strip()) if "@" in raw else raw.strip()
        if line.startswith("package "):
            package = line.split()[1]
        elif line == "}":
            current = None
        elif line.endswith("{"):
            words = line[:-1].split()
            at = next(i for i, w in enumerate(words) if w in KINDS)
            rest = line[line.index(words[at]) + len(words[at]) : -1].strip()
            name = re.match(r"[\w.]+", rest)[0]
            current = Type(package, name, words[at], set(words[:at]), rest[len(name) :])
            api[current.full] = current
        elif current is not None and line and not line.startswith("//"):
            current.lines.append(line)
    for full, t in api.items():
        outer = api.get(full.rpartition(".")[0])
        t.api, t.scope = api, _read_head(api, t, outer.scope if outer else {})
    return api


def _read_head(api: dict[str, Type], t: Type, scope: dict[str, str]) -> dict[str, str]:
    p = Parser(api, TOKEN.findall(t.head), {} if "static" in t.words else scope)
    params, ups, sides = p.type_parameters(), [], []
    if p.accept("extends"):
        ups = p.types_until("implements")
    if p.accept("implements"):
        sides = p.types_until()
    if t.is_interface:
        ups, sides = [], ups + sides
    if t.kind == "enum":
        ups = [("Ljava/lang/Enum;", f"Ljava/lang/Enum<L{t.binary};>;")]
    if t.kind == "@interface":
        sides = [("Ljava/lang/annotation/Annotation;",) * 2]
    t.above = ups[0][0][1:-1] if ups else t.above
    t.interfaces = [d[1:-1] for d, _ in sides]
    t.signature = params + (ups[0][1] if ups else "Ljava/lang/Object;") + "".join(s for _, s in sides)
    return p.scope


def _read_member(api: dict[str, Type], t: Type, line: str, scope: dict[str, str]) -> Member:
    kind, _, rest = line.partition(" ")
    words: set[str] = set()
    while (first := rest.split(None, 1)[0]) in WORDS:
        words.add(first)
        rest = rest.split(None, 1)[1]
    if kind in ("field", "enum_constant"):
        declared, _, value = re.sub(r";\s*(//.*)?$", "", rest).partition(" = ")
        p = Parser(api, TOKEN.findall(declared), scope)
        result = p.type()
        words |= {"public", "static", "final", "enum"} if kind == "enum_constant" else set()
        return Member(p.take(), words, result, value=value or None)
    head, _, tail = rest.partition("(")
    p = Parser(api, TOKEN.findall(f"{head}({tail}".rstrip(";").split(" default ")[0]), scope)
    type_params = p.type_parameters()
    if kind == "ctor":
        p.take()
        name, result = "<init>", ("V", "V")
    else:
        result = p.type()
        name = p.take()
    p.accept("(")
    params = []
    while not p.accept(")"):
        if not p.accept(","):
            params.append(p.type())
            if p.peek() not in (",", ")"):
                p.take()  # a parameter's name
    words |= {"varargs"} if "..." in tail else set()
    throws = [d[1:-1] for d, _ in p.types_until()] if p.accept("throws") else []
    return Member(name, words, result, params, type_params, throws)


class Pool:
    """The constant pool of one class file."""

    def __init__(self) -> None:
        self.blob, self.known, self.next = bytearray(), {}, 1
        self.texts: list[str] = []

    def add(self, tag: int, data: bytes, slots: int = 1) -> int:
        if (tag, data) not in self.known:
            self.blob += bytes([tag]) + data
            self.known[tag, data] = self.next
            self.next += slots
        return self.known[tag, data]

    def text(self, s: str) -> int:
        self.texts.append(s)
        data = s.encode("utf-8", "surrogatepass").replace(b"\0", b"\xc0\x80")
        return self.add(1, struct.pack(">H", len(data)) + data)

    def type(self, binary: str) -> int:
        return self.add(7, struct.pack(">H", self.text(binary)))

    def constant(self, descriptor: str, value: str) -> int:
        if descriptor == "Ljava/lang/String;":
            return self.add(8, struct.pack(">H", self.text(ast.literal_eval(value))))
        if descriptor in "FD":
            number = value.replace("/", " / ").strip("()").rstrip("fFdD")
            top, _, bottom = number.partition(" / ")
            special = {"1.0": float("inf"), "-1.0": float("-inf"), "0.0": float("nan")}
            number = special[top] if bottom else float(number)
            return (
                self.add(4, struct.pack(">f", number))
                if descriptor == "F"
                else self.add(6, struct.pack(">d", number), 2)
            )
        if descriptor == "J":
            return self.add(5, struct.pack(">q", int(value.rstrip("L"), 0)), 2)
        number = {"true": 1, "false": 0}.get(value)
        if number is None:
            number = ord(ast.literal_eval(value)) if value.startswith("'") else int(value, 0)
        return self.add(3, struct.pack(">i", number))


def class_file(api: dict[str, Type], t: Type, inside: dict[str, list[Type]], nested: dict[str, Type]) -> bytes:
    """The bytes of one stub class. `inside`: full name to the types declared directly in it; `nested`: those by binary
    name."""
    pool = Pool()

    def attribute(name: str, data: bytes) -> bytes:
        return struct.pack(">HI", pool.text(name), len(data)) + data

    def entry(flags: int, m: Member, attributes: list[bytes]) -> bytes:
        if m.signature != m.descriptor and not (m.name == "<init>" and inner):
            attributes.append(attribute("Signature", struct.pack(">H", pool.text(m.signature))))
        lead = f"L{outer.binary};" if m.name == "<init>" and inner else ""
        descriptor = m.descriptor.replace("(", "(" + lead, 1)
        return struct.pack(">HHHH", flags, pool.text(m.name), pool.text(descriptor), len(attributes)) + b"".join(
            attributes
        )

    outer = api.get(t.full.rpartition(".")[0])
    inner = outer is not None and t.kind == "class" and "static" not in t.words
    fields, methods = [], []
    for m in t.members:
        flags = sum(FLAGS.get(w, 0) for w in m.words)
        if m.params is None:
            value = (
                []
                if m.value in (None, "null")
                else [attribute("ConstantValue", struct.pack(">H", pool.constant(m.descriptor, m.value)))]
            )
            flags |= (0x4000 if "enum" in m.words else 0) | (0x19 if t.is_interface else 0)
            fields.append(entry(flags, m, value))
            continue
        bare = "abstract" in m.words or (t.is_interface and not m.words & {"default", "static"})
        attributes = []
        if not bare:
            size = 2 + sum(2 if d in "JD" else 1 for d, _ in m.params)
            attributes.append(attribute("Code", struct.pack(">HHI2sHH", 1, size, 2, b"\x01\xbf", 0, 0)))
        if m.throws:
            names = b"".join(struct.pack(">H", pool.type(x)) for x in m.throws)
            attributes.append(attribute("Exceptions", struct.pack(">H", len(m.throws)) + names))
        flags |= (0x400 if bare else 0) | (0x80 if "varargs" in m.words else 0)
        methods.append(entry(flags, m, attributes))

    me, above = pool.type(t.binary), pool.type(t.above)
    sides = [pool.type(i) for i in t.interfaces]
    attributes = []
    if "<" in t.signature:
        attributes.append(attribute("Signature", struct.pack(">H", pool.text(t.signature))))
    named = sorted({n for text in pool.texts for n in re.findall(r"[\w/]+(?:\$\w+)+", text)})
    named = [n for name in named for n in (name, name[1:])]  # a descriptor has an L before the name
    kin = [*inside.get(t.full, []), *(nested[n] for n in named if n in nested)]
    rows = b""
    for x in {x.full: x for x in kin}.values():
        flags = sum(FLAGS.get(w, 0) for w in x.words) | (KINDS[x.kind] & ~0x20) | (0 if x.kind == "class" else 8)
        owner, _, short = x.full.rpartition(".")
        rows += struct.pack(">HHHH", pool.type(x.binary), pool.type(api[owner].binary), pool.text(short), flags)
    if rows:
        attributes.append(attribute("InnerClasses", struct.pack(">H", len(rows) // 8) + rows))
    flags = KINDS[t.kind] | (sum(FLAGS.get(w, 0) for w in t.words) & 0x411) | (1 if "protected" in t.words else 0)
    return b"".join(
        [
            struct.pack(">IHHH", 0xCAFEBABE, 0, 52, pool.next),
            bytes(pool.blob),
            struct.pack(">HHHH", flags, me, above, len(sides)),
            b"".join(struct.pack(">H", i) for i in sides),
            *(struct.pack(">H", len(rows)) + b"".join(rows) for rows in (fields, methods, attributes)),
        ]
    )


def write_jar(api: dict[str, Type], jar: Path, prefixes: tuple[str, ...]) -> int:
    """Writes the types whose full name starts with a prefix; returns how many."""
    inside: dict[str, list[Type]] = {}
    nested: dict[str, Type] = {}
    for t in api.values():
        owner = t.full.rpartition(".")[0]
        if owner in api:
            inside.setdefault(owner, []).append(t)
            nested[t.binary] = t
    wanted = [t for t in api.values() if t.full.startswith(prefixes)]
    with zipfile.ZipFile(jar, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as z:
        for t in wanted:
            z.writestr(t.binary + ".class", class_file(api, t, inside, nested))
    return len(wanted)
