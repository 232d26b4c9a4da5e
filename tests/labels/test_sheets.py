"""How labels lie on their paper, and what is written on them."""

import io

import pypdfium2
import pytest

from contractor.labels import sheets
from contractor.labels.stocks import STOCKS

SERVER = "https://driftbook.tarnbeck.example"
CODE = "7Q2MK4XD9F34"


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.key)
def test_labels_lie_apart_and_on_the_page(stock):
    places = [stock.place(number) for number in range(stock.per_page)]
    assert {page for page, _, _ in places} == {0}
    assert stock.place(stock.per_page) == (1, *places[0][1:])
    rights = [stock.page_width - x - stock.width for _, x, _ in places]
    feet = [stock.page_height - y - stock.height for _, _, y in places]
    # A sheet is laid out in its middle: as much is left at either side.
    assert min(rights) == pytest.approx(min(x for _, x, _ in places))
    assert min(feet) == pytest.approx(min(y for _, _, y in places))
    assert min(rights) >= 0
    assert min(feet) >= 0
    for number, (_, x, y) in enumerate(places):
        for _, other_x, other_y in places[number + 1 :]:
            apart = (
                abs(x - other_x) >= stock.width - 1e-9,
                abs(y - other_y) >= stock.height - 1e-9,
            )
            assert any(apart)


@pytest.mark.parametrize("key", ["a4-65", "roll-25", "letter-12"])
def test_writes_address_place_and_code_and_stays_on_its_label(key):
    stock = STOCKS[key]
    label = sheets.Printed(CODE, "1-014-SMOKE-2217", "Café Łódź, hall behind the stage, Zone 2")
    data = sheets.draw(stock=stock, first=1, labels=[label], server=SERVER, title="Labels")
    page = pypdfium2.PdfDocument(io.BytesIO(data))[0]
    words = page.get_textpage()
    text = words.get_text_range()

    assert "1-014" in text
    assert CODE[-4:] in text
    assert "7Q2M-K4XD" in text  # a hyphen at the end of a line is soft to this reader
    if key != "roll-25":
        assert "Café" in text
        assert "Lódź" in text or "Lódz" in text
    _, x, y = stock.place(0)
    for at in range(words.count_rects()):
        left, bottom, right, top = (value * 25.4 / 72 for value in words.get_rect(at))
        assert left >= x
        assert right <= x + stock.width
        assert top <= stock.page_height - y
        assert bottom >= stock.page_height - y - stock.height
    assert data == sheets.draw(stock=stock, first=1, labels=[label], server=SERVER, title="Labels")


def test_refuses_a_square_that_no_camera_can_read():
    with pytest.raises(sheets.TooSmall, match=r"a camera wants 0\.4 mm"):
        sheets.check_room(stock=STOCKS["roll-25"], server="https://" + "a" * 60 + ".example")
