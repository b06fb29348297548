"""The kit's equations as JavaScript, translated from their Python source: physics is written once.

What it is for: a page whose reader has no Python.  The functions translated are those that take and return
numbers, tuples and arrays of floats; every double, and so every last digit, is the same, as both languages
round + - * / and the square root as IEEE 754 says.  What it leaves out: any construct that is not named
here, which is refused with its place; so any power but the square, and any function but the root, whose last
digits differ from one library to the next.  Units stay as they are, SI.

References
----------
IEEE 754-2019, clause 5.4.1; ECMA-262, 15th ed., 2024, "The Number Type".
"""

from __future__ import annotations

import ast
import builtins
import inspect
import math
import textwrap
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np

#: Python takes the second of two only where it is the greater, or the less: so do these, also for NaN.
HELPERS = """"use strict";
const $max = (a, b) => b > a ? b : a, $min = (a, b) => b < a ? b : a;
const $mod = (a, b) => (a % b + b) % b, $square = x => x * x;
const $vector = n => new Float64Array(n);
const $matrix = (m, n) => Array.from({length: m}, () => $vector(n));
"""
_RESERVED = {
    "arguments", "await", "case", "catch", "class", "const", "debugger", "default", "delete", "do", "enum",
    "eval", "export", "extends", "false", "function", "implements", "in", "instanceof", "interface", "let",
    "new", "null", "package", "private", "protected", "public", "static", "super", "switch", "this", "throw",
    "true", "typeof", "undefined", "var", "void", "with", "yield", "Infinity", "NaN", "Math", "Array",
    "Float64Array",
}  # fmt: skip
_BINARY: dict[type, str] = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}
_COMPARE: dict[type, str] = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==",
                             ast.NotEq: "!="}  # fmt: skip
_NEW = (np.empty, np.zeros)
_ARRAYS = ("Floats", "Integers")
_BUILT_IN: dict[Any, tuple[int, str]] = {max: (2, "$max"), min: (2, "$min"), abs: (1, "Math.abs"),
                                         int: (1, "Math.trunc"), math.sqrt: (1, "Math.sqrt")}  # fmt: skip
_NEARLY: dict[Any, tuple[int, str]] = {getattr(math, name): (1, f"Math.{name}") for name in ("exp", "expm1")}


class TranslationError(ValueError):
    """A construct, a name or a value that the translator does not know."""


def javascript(*functions: Callable[..., Any], nearly: bool = False) -> str:
    """Functions, with all that they call and every constant that they read, as JavaScript.

    Parameters
    ----------
    *functions : function [-]
        Compiled or plain; of numbers, tuples, named tuples and float arrays.
    nearly : bool [-]
        Also the exponential function, whose last digit may then differ.

    Returns
    -------
    str
        A script in strict mode; named tuples are objects, tables are arrays of rows [-].

    Raises
    ------
    TranslationError
        Whatever is not known, with its function and line.

    Examples
    --------
    >>> def drop(height: float, share: float) -> float:
    ...     return max(height - share * height**2, 0.0)
    >>> print(javascript(drop).removeprefix(HELPERS))
    function drop(height, share) {
    return $max((height - (share * $square(height))), 0.0);
    }
    """
    script = _Script(_BUILT_IN | _NEARLY if nearly else _BUILT_IN)
    for function in functions:
        script.name_of(_plain(function), _plain(function).__name__)
    while script.waiting:
        script.done.append(_Function(script.waiting.pop(), script).text())
    return HELPERS + "\n".join([*script.tables, *script.done])


def _plain(value: Any) -> Any:
    """The Python source of a compiled function; anything else as it is."""
    return getattr(value, "py_func", value)


def number(value: Any) -> str:
    """A number as JavaScript writes it, to its last digit."""
    if math.isfinite(value):
        return repr(int(value)) if isinstance(value, (bool, int, np.integer)) else repr(float(value))
    return "NaN" if math.isnan(value) else "Infinity" if value > 0.0 else "-Infinity"


def _literal(value: Any) -> str | None:
    """A constant as a literal, None where it is none."""
    if isinstance(value, (bool, int, float, np.integer, np.floating)):
        return number(value)
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        return _record(type(value), [_literal(entry) or "?" for entry in value])
    if isinstance(value, (tuple, list)):
        return f"[{', '.join(_literal(entry) or '?' for entry in value)}]"
    return _literal(value.tolist()) if isinstance(value, np.ndarray) else None


def _record(kind: Any, entries: list[str]) -> str:
    return (
        "{" + ", ".join(f"{name}: {entry}" for name, entry in zip(kind._fields, entries, strict=True)) + "}"
    )


class _Script:
    """The names of one script: each means one thing."""

    def __init__(self, built_in: dict[Any, tuple[int, str]]) -> None:
        self.built_in = built_in
        self.waiting: list[Any] = []
        self.done: list[str] = []
        self.tables: list[str] = []
        self._known: dict[str, Any] = {}

    def name_of(self, value: Any, name: str) -> str:
        """The name of a function or of a table, which is written once."""
        if name in self._known and self._known[name] is not value:
            raise TranslationError(f"{name}: got two different things of this name; must be one")
        if name not in self._known and inspect.isfunction(value):
            self.waiting.append(value)
        elif name not in self._known:
            self.tables.append(f"const {name} = {_literal(value)};")
        self._known[name] = value
        return name


class _Function:
    """One function on its way."""

    def __init__(self, function: Any, script: _Script) -> None:
        lines, self._first = inspect.getsourcelines(function)
        node = ast.parse(textwrap.dedent("".join(lines))).body[0]
        self._source, self._script = function, script
        if not isinstance(node, ast.FunctionDef):
            raise self._refusal(node)
        self._node = node
        arguments = node.args
        if arguments.vararg or arguments.kwarg or arguments.kwonlyargs or arguments.defaults:
            raise self._refusal(node)
        self._given = [argument.arg for argument in arguments.args]
        said = {a.arg: ast.unparse(a.annotation) for a in arguments.args if a.annotation}
        self._whole = {name for name, kind in said.items() if kind == "int"}
        self._arrays = {name for name, kind in said.items() if kind in _ARRAYS}
        stored = [n.id for n in ast.walk(node) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)]
        self._own = [name for name in dict.fromkeys(stored) if name not in self._given]

    def text(self) -> str:
        given = ", ".join(map(_safe, self._given))
        own = [f"let {', '.join(map(_safe, self._own))};"] if self._own else []
        body = self._node.body[1:] if ast.get_docstring(self._node) else self._node.body
        return "\n".join([f"function {self._node.name}({given}) {{", *own, *self._block(body), "}"])

    def _refusal(self, node: ast.AST, why: str = "") -> TranslationError:
        line = self._first + getattr(node, "lineno", 1) - 1
        place = f"{self._source.__module__}.{self._source.__name__}, line {line}"
        shown = ast.unparse(node).splitlines()[0]
        return TranslationError(f"{place}: got {shown}; must be a construct that is known here{why}")

    # statements

    def _block(self, nodes: Iterable[ast.stmt]) -> list[str]:
        return [line for node in nodes for line in self._statement(node)]

    def _statement(self, node: ast.stmt) -> list[str]:
        if isinstance(node, ast.Assign):
            return [self._assign(node)]
        if isinstance(node, ast.AugAssign) and type(node.op) in _BINARY:
            target = self._scalar(node.target)
            return [f"{target} {_BINARY[type(node.op)]}= {self._scalar(node.value)};"]
        if isinstance(node, ast.Return):
            return [f"return {self._value(node.value)};" if node.value else "return;"]
        if isinstance(node, ast.If):
            lines = [f"if ({self._value(node.test)}) {{", *self._block(node.body), "}"]
            return lines + (["else {", *self._block(node.orelse), "}"] if node.orelse else [])
        if isinstance(node, (ast.While, ast.For)) and not node.orelse:
            head = f"while ({self._value(node.test)})" if isinstance(node, ast.While) else self._head(node)
            return [f"{head} {{", *self._block(node.body), "}"]
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
            return [f"{self._value(node.value)};"]
        if isinstance(node, (ast.Break, ast.Continue)):
            return [f"{ast.unparse(node)};"]
        raise self._refusal(node)

    def _head(self, node: ast.For) -> str:
        """The head of a loop over whole numbers, or over the entries of a tuple."""
        if not isinstance(node.target, ast.Name):
            raise self._refusal(node)
        name, over = _safe(node.target.id), node.iter
        if not (isinstance(over, ast.Call) and self._meaning(over.func) is range):
            return f"for ({name} of {self._value(over)})"
        ends = [self._value(end) for end in over.args]
        if len(ends) > 2 or over.keywords:
            raise self._refusal(node)
        start, stop = ends if len(ends) == 2 else ("0", *ends)
        return f"for ({name} = {start}; {name} < {stop}; {name}++)"

    def _assign(self, node: ast.Assign) -> str:
        if self._is_array(node.value):
            self._arrays |= {target.id for target in node.targets if isinstance(target, ast.Name)}
        whole = " = ".join([*map(self._target, node.targets), self._value(node.value)])
        return f"({whole});" if whole.startswith("{") else f"{whole};"

    def _target(self, node: ast.expr) -> str:
        if isinstance(node, ast.Tuple):
            return f"{{{', '.join(f'{n}: {self._target(entry)}' for n, entry in enumerate(node.elts))}}}"
        if isinstance(node, ast.Name):
            return _safe(node.id)
        if isinstance(node, ast.Subscript) and not isinstance(node.slice, ast.Slice):
            return self._value(node)
        raise self._refusal(node)

    # expressions

    def _value(self, node: ast.expr) -> str:
        say = getattr(self, f"_{type(node).__name__.lower()}", None)
        if say is None:
            raise self._refusal(node)
        return str(say(node))

    def _is_array(self, node: ast.expr) -> bool:
        """Whether an expression is a whole array, which has no arithmetic in JavaScript."""
        if isinstance(node, ast.Name):
            return node.id in self._arrays or isinstance(self._meaning(node), (tuple, np.ndarray))
        if isinstance(node, ast.Call):
            found = self._meaning(node.func)
            return found in _NEW or getattr(found, "__annotations__", {}).get("return") in _ARRAYS
        return isinstance(node, ast.Tuple)

    def _scalar(self, node: ast.expr) -> str:
        """The value of an operand, which must be a number."""
        if self._is_array(node):
            raise self._refusal(node, ", an entry of it for instance")
        return self._value(node)

    def _meaning(self, node: ast.expr) -> Any:
        """What a global name, or a name of a module, stands for; itself where it is no such name."""
        if isinstance(node, ast.Name) and node.id not in self._given and node.id not in self._own:
            return _plain(self._source.__globals__.get(node.id, vars(builtins).get(node.id)))
        if isinstance(node, ast.Attribute) and inspect.ismodule(module := self._meaning(node.value)):
            return _plain(getattr(module, node.attr))
        return node

    def _name(self, node: ast.Name) -> str:
        found = self._meaning(node)
        if found is node:
            return _safe(node.id)
        text = _literal(found)
        if text is None or "?" in text:
            raise self._refusal(node)
        if isinstance(found, (tuple, np.ndarray)):
            return self._script.name_of(found, node.id)
        return text

    def _constant(self, node: ast.Constant) -> str:
        if not isinstance(node.value, (bool, int, float)):
            raise self._refusal(node)
        return str(node.value).lower() if isinstance(node.value, bool) else number(node.value)

    def _attribute(self, node: ast.Attribute) -> str:
        found = self._meaning(node)
        if found is node:
            return f"{self._value(node.value)}.{node.attr}"
        if not isinstance(found, (int, float)):
            raise self._refusal(node)
        return number(found)

    def _tuple(self, node: ast.Tuple) -> str:
        return f"[{', '.join(map(self._value, node.elts))}]"

    def _binop(self, node: ast.BinOp) -> str:
        left, right = self._scalar(node.left), self._scalar(node.right)
        if type(node.op) in _BINARY:
            return f"({left} {_BINARY[type(node.op)]} {right})"
        if isinstance(node.op, ast.Mod):
            return f"$mod({left}, {right})"
        if isinstance(node.op, ast.Pow) and right == "2":
            return f"$square({left})"
        raise self._refusal(node)

    def _unaryop(self, node: ast.UnaryOp) -> str:
        inner = self._scalar(node.operand)
        if isinstance(node.op, ast.USub):  # no -0 out of a whole number
            whole = isinstance(node.operand, ast.Name) and node.operand.id in self._whole
            return f"(0 - {inner})" if whole else f"(-{inner})"
        if isinstance(node.op, ast.Not):
            return f"!({inner})"
        raise self._refusal(node)

    def _boolop(self, node: ast.BoolOp) -> str:
        sign = " && " if isinstance(node.op, ast.And) else " || "
        return f"({sign.join(map(self._value, node.values))})"

    def _compare(self, node: ast.Compare) -> str:
        sides = [node.left, *node.comparators]
        if any(type(op) not in _COMPARE for op in node.ops) or not all(
            isinstance(side, ast.Name) for side in sides[1:-1]
        ):
            raise self._refusal(node)
        pairs = zip(sides, node.ops, sides[1:], strict=False)
        said = [f"{self._scalar(a)} {_COMPARE[type(op)]} {self._scalar(b)}" for a, op, b in pairs]
        return f"({' && '.join(said)})"

    def _ifexp(self, node: ast.IfExp) -> str:
        return f"({self._value(node.test)} ? {self._value(node.body)} : {self._value(node.orelse)})"

    def _subscript(self, node: ast.Subscript) -> str:
        if isinstance(node.slice, ast.Slice):
            whole, first = self._meaning(node.value), node.slice.lower  # the rest of a tuple, worked out here
            if isinstance(whole, tuple) and isinstance(first, ast.Constant) and node.slice.upper is None:
                return str(_literal(whole[int(str(first.value)) :]))
            raise self._refusal(node)
        if isinstance(node.value, ast.Attribute) and node.value.attr == "shape":
            if self._value(node.slice) != "0":
                raise self._refusal(node)
            return f"{self._value(node.value.value)}.length"
        places = node.slice.elts if isinstance(node.slice, ast.Tuple) else [node.slice]
        if any(isinstance(place, (ast.Slice, ast.Starred)) for place in places):
            raise self._refusal(node)
        return self._value(node.value) + "".join(f"[{self._value(place)}]" for place in places)

    def _call(self, node: ast.Call) -> str:
        found = self._meaning(node.func)
        if node.keywords:
            raise self._refusal(node)
        if found in _NEW:  # numbers of any type stand in doubles
            sizes = node.args[0].elts if isinstance(node.args[0], ast.Tuple) else node.args[:1]
            name = "$matrix" if isinstance(node.args[0], ast.Tuple) else "$vector"
            return f"{name}({', '.join(map(self._scalar, sizes))})"
        given = [self._value(argument) for argument in node.args]
        if inspect.isfunction(found):
            return f"{self._script.name_of(found, found.__name__)}({', '.join(given)})"
        if inspect.isclass(found) and hasattr(found, "_fields") and len(given) == len(found._fields):
            return _record(found, given)
        if isinstance(found, (type, type(max))) and found in self._script.built_in:
            least, name = self._script.built_in[found]
            given = list(map(self._scalar, node.args))
            if least == 1 and len(given) == 1:
                return f"{name}({given[0]})"
            if least == 2 and len(given) > 1:
                while len(given) > 1:
                    given[:2] = [f"{name}({given[0]}, {given[1]})"]
                return given[0]
        raise self._refusal(node)


def _safe(name: str) -> str:
    return f"{name}_" if name in _RESERVED else name
