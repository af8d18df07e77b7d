"""Pictures on a panel, with their message as text for those who do not see them."""

import base64
import io
from typing import TYPE_CHECKING

from labkit.ui.text import Html, html

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def png(figure: "Figure", dpi: int = 110) -> bytes:
    """Return a figure as PNG and close it."""
    from matplotlib import pyplot

    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=dpi)
    pyplot.close(figure)
    return buffer.getvalue()


def picture(figure: "Figure", alt: str) -> Html:
    """Return a figure as an image tag that carries ``alt``, what the figure says, in words."""
    data = base64.b64encode(png(figure)).decode()
    return html('<img class="labkit-picture" alt="{}" src="data:image/png;base64,{}">', alt, data)
