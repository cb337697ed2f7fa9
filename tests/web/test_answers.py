"""From a photo sent by form to its verdict, without a script."""

from __future__ import annotations

import html
import io
import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from drawn import Camera, draw
from drawn_lamp import Lamp, Pinhole, draw_against_lamp
from PIL import Image

from discscan.bench import Bench, judge_file, judge_together
from discscan.records import NOTHING_SAID, Given
from discscan.report import PageEntry, words
from discscan.web import WebLimits

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
ORIGIN = {"Origin": "http://127.0.0.1:8037"}


def picture(shade: int = 90) -> bytes:
    done, data = cv2.imencode(".jpg", np.full((400, 500, 3), shade, np.uint8))
    assert done
    return data.tobytes()


def text_of(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def test_a_demo_photo_comes_back_with_its_verdict(serve: Callable[..., Any], photo: bytes, judged: PageEntry) -> None:
    stall = serve(judge=judge_together)
    answer = stall.until_done(stall.send(photo).url)
    (disc,) = judged.photo.discs
    said = text_of(answer.text)
    assert answer.status_code == 200
    for sentence in (words.VERDICT[disc.verdict.action], words.deciding_reason(disc), words.disc_line(disc)):
        assert sentence in said
    for caution in disc.verdict.cautions:
        assert caution in said
    for doubt in disc.doubts:
        assert doubt.wrong in said


def test_the_word_comes_first_then_chance_reason_photo_table_and_view_from_above(stall: Any, photo: bytes) -> None:
    page = stall.until_done(stall.send(photo).url).text
    marks = ("<h1", 'class="chance"', 'class="reason"', "marks.jpg", 'class="seen"', "from-above-1.jpg", "For a surer")
    places = [page.index(mark) for mark in marks]
    assert places == sorted(places)


def test_each_mark_leads_to_its_row_and_each_row_to_its_mark(stall: Any, photo: bytes, judged: PageEntry) -> None:
    page = stall.until_done(stall.send(photo).url).text
    count = min(12, len(judged.photo.discs[0].defects))
    assert count > 0
    for number in range(1, count + 1):
        mark, row = f"disc1-mark{number}", f"disc1-row{number}"
        assert re.search(rf'<a id="{mark}"[^>]+href="#{row}"', page)
        assert re.search(rf'<tr [^>]*id="{row}".*?href="#{mark}"', page)


def test_marks_lie_on_the_disc_in_the_photo(stall: Any, photo: bytes, judged: PageEntry) -> None:
    page = stall.until_done(stall.send(photo).url).text
    rim = judged.photo.discs[0].outer_ellipse_px
    for path in re.findall(r'class="line" d="M([^"Z]+)', page):
        for point in path.split("L"):
            x, y = map(float, point.split())
            assert np.hypot(x - rim.cx, y - rim.cy) < rim.axis_major / 2 + 2


def test_a_photo_sent_twice_is_one_photo_judged_once(stall: Any, photo: bytes) -> None:
    first, second = stall.send(photo), stall.send(photo)
    both_at_once = stall.send(photo, photo)
    assert first.url == second.url == both_at_once.url
    stall.until_done(first.url)
    assert len(stall.judge.asked) == 1
    assert len(set(re.findall(r"/photos/\w+", stall.client.get("/").text))) == 1


def test_several_photos_at_once_are_listed_with_their_verdicts(stall: Any, judged: PageEntry) -> None:
    answer = stall.send(picture(80), picture(120), picture(160))
    assert answer.status_code == 200 and answer.url.path == "/"
    home = stall.until_done(answer.url).text
    assert len(set(re.findall(r"/photos/\w+", home))) == 3
    assert text_of(home).count(words.VERDICT[judged.photo.discs[0].verdict.action]) == 3


def test_it_says_received_at_once_and_needs_no_script_to_go_on(stall: Any, photo: bytes) -> None:
    stall.judge.gate.clear()
    page = stall.send(photo)
    assert "Received." in page.text and "Look again" in page.text
    assert '<noscript><meta http-equiv="refresh"' in page.text
    assert stall.client.get(f"{page.url.path}/state").json()["done"] is False
    stall.judge.gate.set()
    done = stall.until_done(page.url)
    assert "<script" not in done.text and 'class="verdict' in done.text
    assert stall.client.get(f"{page.url.path}/state").json()["done"] is True


def test_what_is_said_of_a_disc_has_its_photo_judged_anew(stall: Any, photo: bytes) -> None:
    url = stall.until_done(stall.send(photo).url).url
    again = stall.client.post(f"{url.path}/format", data={"format": "dvd", "polished": "2"}, headers=ORIGIN)
    page = stall.until_done(again.url).text
    given: list[Given] = [one[2] for one in stall.judge.asked]
    assert given == [NOTHING_SAID, Given("dvd", polished=2)]
    assert re.search(r'value="dvd" checked', page) and re.search(r'name="polished" value="2" checked', page)
    for wrong in ({"format": "vinyl"}, {"format": "dvd", "polished": "-1"}, {"format": "dvd", "polished": "²"}):
        assert stall.client.post(f"{url.path}/format", data=wrong, headers=ORIGIN).status_code == 422


def test_the_copies_served_tell_nothing_of_where_the_photo_was_taken(serve: Callable[..., Any], photo: bytes) -> None:
    exif = Image.Exif()
    exif[0x010F] = "A maker of phones"
    exif.get_ifd(0x8825)[2] = (54.0, 28.0, 12.0)  # GPSLatitude
    buffer = io.BytesIO()
    Image.open(io.BytesIO(photo)).save(buffer, "JPEG", exif=exif, quality=92)
    assert b"A maker of phones" in buffer.getvalue()
    stall = serve(judge=judge_together)
    page = stall.until_done(stall.send(buffer.getvalue()).url)
    pictures = re.findall(r'<img src="([^"]+)"', page.text)
    assert len(pictures) == 2
    for url in pictures:
        served = stall.client.get(url)
        assert served.headers["content-type"] == "image/jpeg"
        assert b"A maker of phones" not in served.content and b"Exif" not in served.content
        assert not Image.open(io.BytesIO(served.content)).getexif()


def test_the_calculator_says_what_the_command_line_says() -> None:
    """The worked example of the README, whose lines tests/worth hold against sums by hand."""
    from discscan.web.forms import read_worth

    command, answer = re.search(r"\$ \.venv/bin/discscan worth (--sells.+)\n([^`]+)```", README).groups()  # type: ignore
    typed = {name.replace("-", "_"): value for name, value in re.findall(r"--([a-z-]+) (\S+)", command)}
    worth = read_worth(typed)
    lines = answer.splitlines()
    table = lines.index(next(line for line in lines if line.startswith("What to do")))
    assert list(worth.lines) == lines[:table]
    for row, shown in zip(worth.rows, lines[table + 1 :], strict=False):
        assert [cell for cell in row if cell] == re.split(r"\s{2,}", shown.strip())
    assert [f"Caution: {one}" for one in worth.cautions] == lines[table + 1 + len(worth.rows) :]


def test_the_calculators_page_shows_the_answer_and_names_a_wrong_field(stall: Any) -> None:
    page = stall.client.get("/worth", params={"sells": "15", "chance": "30%", "asked": "1,50"})
    assert page.status_code == 200 and "The most to pay:" in page.text
    wrong = stall.client.get("/worth", params={"sells": "fifteen", "chance": "30%"})
    assert wrong.status_code == 422
    assert "is no amount of money" in wrong.text and 'href="#sells"' in wrong.text
    assert 'value="fifteen"' in wrong.text  # nobody has to type it again
    assert "<b>" not in stall.client.get("/worth", params={"sells": "<b>15"}).text


def test_prices_of_a_judged_disc_give_the_most_to_pay(stall: Any, photo: bytes, judged: PageEntry) -> None:
    from discscan.report import money_words
    from discscan.report.forecasts import forecast_of
    from discscan.web.forms import SELLS
    from discscan.worth import advise_on_scan

    forecast = forecast_of(judged.photo.discs[0])
    assert forecast is not None
    url = stall.until_done(stall.send(photo).url).url
    said = text_of(stall.client.get(url.path, params={"disc": "1", "sells": "15"}).text)
    advice = advise_on_scan({"sells": SELLS.parse("15")}, forecast)
    for line in money_words.advice_lines(advice, settled=forecast.settled):
        assert line in said
    assert len(stall.judge.asked) == 1  # nothing was judged for that


def test_prices_stay_when_the_format_is_corrected(stall: Any, photo: bytes) -> None:
    url = stall.until_done(stall.send(photo).url).url
    page = stall.client.get(url.path, params={"disc": "1", "sells": "15", "asked": '2"><b>'}).text
    assert "<b>" not in page
    action = html.unescape(re.search(r'action="([^"]+/format[^"]*)"', page).group(1))  # type: ignore[union-attr]
    again = stall.until_done(stall.client.post(action, data={"format": "cd"}, headers=ORIGIN).url)
    assert 'name="sells" value="15"' in again.text and 'value="cd" checked' in again.text


def test_the_address_of_a_refusal_leads_home_when_it_is_entered_again(stall: Any) -> None:
    assert stall.client.get("/photos").url.path == "/"


def test_a_photo_that_cannot_be_judged_says_so_and_the_next_is_judged(serve: Callable[..., Any], judged: Any) -> None:
    def judge(photos: Mapping[str, Path], given: Given, lamp: object) -> PageEntry:
        if "Photo 1" in photos:
            raise MemoryError
        return judged  # type: ignore[no-any-return]

    stall = serve(judge=judge)
    bad = stall.until_done(stall.send(picture(50)).url)
    assert bad.status_code == 422 and "Judging it failed" in bad.text
    assert stall.until_done(stall.send(picture(60)).url).status_code == 200


def test_a_photo_that_takes_too_long_is_given_up(serve: Callable[..., Any], photo: bytes) -> None:
    limits = WebLimits(seconds_per_photo=0.0)
    bench = Bench(seconds=limits.seconds_per_photo)
    stall = serve(judge=bench, limits=limits)
    answer = stall.until_done(stall.send(photo).url)
    bench.close()
    assert answer.status_code == 504 and "took too long" in answer.text


def test_the_process_apart_judges_as_this_one_does(photo: bytes, judged: PageEntry, tmp_path: Path) -> None:
    (tmp_path / "photo").write_bytes(photo)
    bench = Bench()
    try:
        assert bench({"Photo 1": tmp_path / "photo"}, NOTHING_SAID).photo == judged.photo
    finally:
        bench.close()


@pytest.mark.parametrize("rotate", [cv2.ROTATE_90_CLOCKWISE, cv2.ROTATE_180])
def test_a_rotated_and_compressed_photo_is_judged_too(photo: bytes, rotate: int, tmp_path: Path) -> None:
    bgr = cv2.imdecode(np.frombuffer(photo, np.uint8), cv2.IMREAD_COLOR)
    assert bgr is not None
    turned = cv2.rotate(bgr, rotate)
    (tmp_path / "photo").write_bytes(cv2.imencode(".jpg", turned, [cv2.IMWRITE_JPEG_QUALITY, 60])[1].tobytes())
    assert len(judge_file(tmp_path / "photo", "Photo 1", NOTHING_SAID).photo.discs) == 1


def test_several_photos_of_one_disc_are_one_job_whatever_their_order(stall: Any) -> None:
    one, two = picture(80), picture(120)
    files = [("photo", ("a.jpg", data, "image/jpeg")) for data in (one, two)]
    first = stall.client.post("/photos", files=files, data={"together": "yes"}, headers=ORIGIN)
    stall.until_done(first.url)
    again = stall.client.post("/photos", files=files[::-1], data={"together": "yes"}, headers=ORIGIN)
    assert first.url.path == again.url.path and first.url.path.startswith("/photos/")
    assert stall.judge.together == [["Photo 1a", "Photo 1b"]]
    assert len(list(stall.folder.iterdir())) == 2


def test_another_photo_of_a_disc_is_taken_with_those_before(stall: Any, photo: bytes) -> None:
    url = stall.until_done(stall.send(photo).url).url
    files = [("photo", ("b.jpg", picture(120), "image/jpeg"))]
    more = stall.client.post("/photos", files=files, data={"more_of": url.path.split("/")[-1]}, headers=ORIGIN)
    assert more.url.path != url.path
    stall.until_done(more.url)
    assert stall.judge.together == [["Photo 1"], ["Photo 2a", "Photo 2b"]]
    unknown = stall.client.post("/photos", files=files, data={"more_of": "../../etc"}, headers=ORIGIN)
    stall.until_done(unknown.url)
    assert stall.judge.together[-1] == ["Photo 3"]


def test_two_photos_of_one_disc_are_told_as_the_library_tells_them(serve: Callable[..., Any], photo: bytes) -> None:
    """The same photo, upright and turned by a quarter: what `discscan.scan(merge=True)` says of its records."""
    import discscan

    bgr = cv2.imdecode(np.frombuffer(photo, np.uint8), cv2.IMREAD_COLOR)
    assert bgr is not None
    turned = cv2.imencode(".jpg", cv2.rotate(bgr, cv2.ROTATE_90_CLOCKWISE), [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes()
    stall = serve(judge=judge_together)
    files = [("photo", ("a.jpg", data, "image/jpeg")) for data in (photo, turned)]
    sent = stall.client.post("/photos", files=files, data={"together": "yes"}, headers=ORIGIN)
    page = stall.until_done(sent.url)
    (merged,) = discscan.scan([photo, turned], merge=True).merged or []
    said = text_of(page.text)
    assert words.VERDICT[merged.verdict.action] in said and words.deciding_reason(merged) in said
    assert '<svg viewBox="0 0 None' not in page.text


def test_a_photo_against_a_lamp_goes_with_its_disc_and_stays_with_it(stall: Any, photo: bytes) -> None:
    key = stall.until_done(stall.send(photo).url).url.path.split("/")[-1]
    stall.until_done(stall.client.post(f"/photos/{key}/format", data={"format": "cd"}, headers=ORIGIN).url)

    def add(data: bytes, **fields: str) -> Any:
        files = [("photo", ("b.jpg", data, "image/jpeg"))]
        return stall.client.post("/photos", files=files, data=fields, headers=ORIGIN)

    lit = add(picture(120), more_of=key, lamp="yes")
    stall.until_done(lit.url)
    assert (stall.judge.together[-1], stall.judge.lamps[-1]) == (["Photo 2a"], "Photo 2b")
    assert stall.judge.asked[-1][2] == Given("cd")
    assert add(picture(120), more_of=key, lamp="yes").url == lit.url
    assert add(picture(120), more_of=key).url != lit.url  # the same photo as one more of the data side
    more = add(picture(160), more_of=lit.url.path.split("/")[-1])
    stall.until_done(more.url)
    assert (stall.judge.together[-1], stall.judge.lamps[-1]) == (["Photo 4a", "Photo 4b"], "Photo 4c")


def test_a_lone_label_is_not_asked_to_be_held_against_a_lamp(serve: Callable[..., Any], judged: PageEntry) -> None:
    """What a lamp shows is told with the data side."""
    (disc,) = judged.photo.discs
    label = replace(
        judged, photo=judged.photo.model_copy(update={"discs": [disc.model_copy(update={"side": "label"})]})
    )
    stall = serve(judge=lambda photos, given, lamp: judged if len(photos) > 1 else label)
    alone = stall.until_done(stall.send(picture(80)).url)
    assert "Photograph it before the lamp" not in alone.text
    files = [("photo", ("b.jpg", picture(120), "image/jpeg"))]
    both = stall.client.post("/photos", files=files, data={"more_of": alone.url.path.split("/")[-1]}, headers=ORIGIN)
    assert "Photograph it before the lamp" in stall.until_done(both.url).text


def test_a_photo_against_a_lamp_without_its_disc_is_refused(stall: Any) -> None:
    files = [("photo", ("b.jpg", picture(120), "image/jpeg"))]
    answer = stall.client.post("/photos", files=files, data={"more_of": "gone", "lamp": "yes"}, headers=ORIGIN)
    assert answer.status_code == 404 and stall.judge.asked == []


def test_holes_that_the_lamp_shows_are_told_on_the_page(serve: Callable[..., Any]) -> None:
    data_side = cv2.imencode(".png", draw(camera=Camera(tilt_deg=15), seed=2)[0])[1].tobytes()
    before_lamp = draw_against_lamp(Pinhole(30, 20, 0.4), Pinhole(-40, 0, 0.4), lamp=Lamp(level=0.9))[0]
    stall = serve(judge=judge_together)
    key = stall.until_done(stall.send(data_side).url).url.path.split("/")[-1]
    files = [("photo", ("b.png", cv2.imencode(".png", before_lamp)[1].tobytes(), "image/png"))]
    sent = stall.client.post("/photos", files=files, data={"more_of": key, "lamp": "yes"}, headers=ORIGIN)
    said = text_of(stall.until_done(sent.url).text)
    assert "light comes through the mirror in 2 places" in said
    assert said.count("hole in the mirror") == 2
