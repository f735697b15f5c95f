"""Networks in and out through pgmpy, the only module that touches it.

pgmpy takes seconds to import, so it is imported inside the functions and never on the way to an
answer about a visit.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from brinebayes.errors import ModelError
from brinebayes.network.tables import ROW_TOLERANCE, Network, Table, Variable

if TYPE_CHECKING:
    from pgmpy.models import DiscreteBayesianNetwork

#: Rows of published networks are off from one by rounding, up to this much; more is refused.
ROUNDING = 1e-6
#: State names that an XMLBIF file keeps as they are.
PLAIN = re.compile(r"[A-Za-z0-9_]+")


def to_pgmpy(network: Network) -> DiscreteBayesianNetwork:
    """The network as a pgmpy model with the same names, states and doubles."""
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.models import DiscreteBayesianNetwork

    model = DiscreteBayesianNetwork()
    model.add_nodes_from(network.names)
    for table in network.tables:
        model.add_edges_from((parent, table.variable) for parent in table.parents)
        family = (table.variable, *table.parents)
        model.add_cpds(
            TabularCPD(
                table.variable,
                table.values.shape[-1],
                table.values.reshape(-1, table.values.shape[-1]).T,
                evidence=list(table.parents),
                evidence_card=list(table.values.shape[:-1]),
                state_names={name: list(network.states(name)) for name in family},
            )
        )
    return model


def from_pgmpy(model: DiscreteBayesianNetwork) -> tuple[Network, tuple[str, ...]]:
    """A pgmpy model as a network, and a line for each table whose rounding was mended.

    A row that is off from 1 by more than 1e-9 but at most 1e-6 is divided by its sum. Names and
    states become text. Raises `ModelError` when a row is further off or a table is missing.
    """
    variables, tables, changes = [], [], []
    cpds = {str(cpd.variable): cpd for cpd in model.get_cpds()}
    for node in model.nodes():
        name = str(node)
        if name not in cpds:
            raise ModelError(f"variable {name}: has no table")
        cpd = cpds[name]
        variables.append(Variable(name, tuple(map(str, cpd.state_names[cpd.variable]))))
        values = np.moveaxis(np.asarray(cpd.values, dtype=np.float64), 0, -1)
        sums = values.sum(axis=-1, keepdims=True)
        off = float(np.abs(sums - 1.0).max())
        if not off <= ROUNDING:
            raise ModelError(f"table of {name}: a row is off from 1 by {off:.1e}, not by rounding")
        if off > ROW_TOLERANCE:
            values = values / sums
            changes.append(f"table of {name}: rows off from 1 by up to {off:.1e}, divided by sum")
        tables.append(_in_own_order(cpd, name, cpds, values))
    return Network(variables, tables), tuple(changes)


def _in_own_order(cpd: Any, name: str, cpds: dict[str, Any], values: Any) -> Table:
    """The table with each parent's states in the order that the parent's own table has them."""
    parents = [str(parent) for parent in cpd.variables[1:]]
    for axis, parent in enumerate(cpd.variables[1:]):
        here = list(cpd.state_names[parent])
        there = list(cpds[str(parent)].state_names[parent])
        if here != there:
            if set(here) != set(there):
                raise ModelError(f"table of {name}: states of {parent} are {here}, not {there}")
            values = values.take([here.index(state) for state in there], axis=axis)
    return Table(name, parents, values)


def write_xmlbif(network: Network, path: Path) -> None:
    """Write an XMLBIF file; every double is read back as it was.

    Variables are written in the order of their names. Raises `ModelError` for a state name that
    the format would rewrite, rather than write another one.
    """
    from pgmpy.readwrite import XMLBIFWriter

    for variable in network.variables:
        for text in (variable.name, *variable.states):
            if text != text.strip() or not text.isprintable():
                raise ModelError(f"variable {variable.name}: {text!r} would not survive in XMLBIF")
        for state in variable.states:
            if not PLAIN.fullmatch(state):
                raise ModelError(
                    f"variable {variable.name}: state {state!r} would be rewritten in XMLBIF; "
                    "use letters, digits and underscores"
                )
    path.write_text(str(XMLBIFWriter(to_pgmpy(network))), encoding="utf-8")


def export_xmlbif(network: Network, path: Path) -> float:
    """Write it, read it back, and return the largest difference of any number.

    Raises `ModelError` where names, states or parents do not come back as they were.
    """
    write_xmlbif(network, path)
    back, _ = read_xmlbif(path)
    apart = 0.0
    for table in network.tables:
        again = back.table_of.get(table.variable)
        same = again is not None and set(again.parents) == set(table.parents)
        if (
            again is None
            or not same
            or back.states(table.variable) != network.states(table.variable)
        ):
            raise ModelError(f"{path}: {table.variable} is not read back as it was written")
        axes = [again.parents.index(parent) for parent in table.parents]
        values = again.values.transpose(*axes, len(axes))
        apart = max(apart, float(np.abs(values - table.values).max()))
    return apart


def read_xmlbif(path: Path) -> tuple[Network, tuple[str, ...]]:
    """Read an XMLBIF file; returns the network and what was mended, as `from_pgmpy`."""
    from pgmpy.readwrite import XMLBIFReader

    return from_pgmpy(XMLBIFReader(string=path.read_text(encoding="utf-8")).get_model())


def read_bif(path: Path) -> tuple[Network, tuple[str, ...]]:
    """Read a BIF file, plain or `.gz`; returns the network and what was mended, as `from_pgmpy`."""
    from pgmpy.readwrite import BIFReader

    if path.suffix == ".gz":
        import gzip

        text = gzip.decompress(path.read_bytes()).decode("utf-8")
    else:
        text = path.read_text(encoding="utf-8")
    return from_pgmpy(BIFReader(string=text).get_model())
