"""Which faults are tried: a sample of all that the operators can make, the same for the same code."""

import re
import tempfile
from collections import Counter
from collections.abc import Sequence
from hashlib import sha256
from pathlib import Path

from cosmic_ray.commands import init
from cosmic_ray.work_db import WorkDB, use_db
from cosmic_ray.work_item import MutationSpec

SEED = 20261128

# A change that any run notices tells nothing of the tests, so an operator is only swapped for its neighbours.
OPERATORS = re.compile(
    r"""core/(
        NumberReplacer | AddNot | ZeroIterationForLoop | RemoveDecorator | ExceptionReplacer
      | Replace(TrueWithFalse | FalseWithTrue | AndWithOr | OrWithAnd | BreakWithContinue | ContinueWithBreak)
      | ReplaceUnaryOperator_Delete_(Not | USub)
      | ReplaceBinaryOperator_(Add_Sub | Sub_Add | Mul_Div | Div_Mul | FloorDiv_Div | Div_FloorDiv
                             | Mod_FloorDiv | Pow_Mul | BitAnd_BitOr)
      | ReplaceComparisonOperator_(Eq_NotEq | NotEq_Eq | Is_IsNot | IsNot_Is | Lt_LtE | LtE_Lt | Gt_GtE
                                 | GtE_Gt | Lt_GtE | LtE_Gt | Gt_LtE | GtE_Lt)
    )""",
    re.VERBOSE,
)


def sample(modules: Sequence[Path], number: int) -> list[MutationSpec]:
    """Return so many of the faults that can be put into these modules, in an order that is none.

    Each has its lot, drawn by the seed from what it changes and where, so that a change to the code leaves
    the lots of all other code as they were.
    """
    with tempfile.TemporaryDirectory() as folder, use_db(f"{folder}/all.sqlite", WorkDB.Mode.create) as found:
        init(modules, found, {})
        every = [item.mutations[0] for item in found.work_items]
    texts = {module: module.read_text().splitlines() for module in modules}
    lots: dict[str, MutationSpec] = {}
    alike: Counter[str] = Counter()
    for fault in sorted(every, key=lambda each: (each.module_path, each.occurrence)):
        line, column = fault.start_pos
        text = texts[fault.module_path][line - 1]
        is_star = text[column : column + 2] == "*,"  # before parameters that go by name: no product
        if is_star or not OPERATORS.fullmatch(fault.operator_name):
            continue
        named = f"{SEED} {fault.module_path} {fault.operator_name} {column} {text}"
        lots[sha256(f"{named} {alike[named]}".encode()).hexdigest()] = fault
        alike[named] += 1
    return [lots[lot] for lot in sorted(lots)[:number]]
