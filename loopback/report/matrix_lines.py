"""What the chain matrix says, in lines for the screen with all numbers."""

from __future__ import annotations

from loopback.facts import Analysis
from loopback.quantity import estimate_text, round_together
from loopback.report.layout import Row

_BASES = {"second_load": "from a second load", "reversed": "from a reversed run"}


def matrix_rows(analysis: Analysis) -> list[Row]:
    """Write the chain matrix around 1 kHz and the witness of passivity.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    list of Row
        Empty where no runs show either.
    """
    rows: list[Row] = []
    matrix = analysis.matrix
    if matrix is not None:
        gain, doubt = round_together(matrix.gain_db.value, matrix.gain_db.half_width())
        lines = [
            f"gain without load {gain} dB ± {doubt}",
            f"input, output open: {estimate_text(matrix.input_siemens, 'S')}, "
            f"{estimate_text(matrix.input_farad, 'F')}",
            f"output, or in series: {estimate_text(matrix.output_ohm, 'Ω')}",
            f"second load {estimate_text(matrix.second_load_ohm, 'Ω')}, measured at the coupler",
            f"from runs {', '.join(sorted(matrix.run_ids))}",
            "loopback export writes A, B, C, D over frequency",
        ]
        rows.append(Row("Chain matrix", "\n".join(lines)))
    lines = []
    for witness in analysis.witnesses:
        value, doubt = round_together(witness.value.value, witness.value.half_width())
        lines.append(f"AD - BC = {value} ± {doubt}, {_BASES[witness.basis]}")
    if lines:
        lines.append("1: passive and the same from both ends. 0: a buffer.")
        rows.append(Row("Passive?", "\n".join(lines)))
    return rows
