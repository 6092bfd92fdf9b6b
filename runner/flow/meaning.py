"""What documents must mean together, beyond the shape of each.

Rules: the checks are independent of each other and note what they find; none of them changes
anything. Those that need compiled conditions run after compiling, on the same faults.
"""

from __future__ import annotations

from runner.engine.table import Table
from runner.flow.answers import check_answers
from runner.flow.coverage import check_ends, check_known
from runner.flow.cycles import check_cycles
from runner.flow.documents import Documents
from runner.flow.faults import Faults
from runner.flow.names import Scope
from runner.flow.order import check_order
from runner.flow.references import References


def check_documents(documents: Documents, scope: Scope, faults: Faults) -> None:
    """Note what can be seen in the documents themselves."""
    References(documents, scope, faults).check()
    check_order(documents, faults)
    for item in documents.items():
        check_answers(item, faults)


def check_table(documents: Documents, scope: Scope, table: Table, faults: Faults) -> None:
    """Note what can be seen once conditions are compiled."""
    check_cycles(documents, table, faults)
    check_ends(documents, scope, table, faults)
    check_known(documents, scope, table, faults)
