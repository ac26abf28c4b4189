"""The marks by which a portal's page is told from any other."""

import pytest

from agent.codec.page_marks import MAX_LOOKED_AT, MAX_TITLE, read_page_marks


@pytest.mark.parametrize(
    ("body", "asks"),
    [
        (b"<form><input type=password></form>", True),
        (b'<INPUT NAME="p" TYPE = "Password">', True),
        (b"<input class='x' autocomplete='cc-number'>", True),
        (b'<input autocomplete="billing cc-number">', True),
        (b"<input type=text autocomplete=email>", False),
        (b"<p>type=password</p>", False),
        (b"", False),
    ],
)
def test_a_page_that_wants_a_sign_in_or_a_payment(body, asks):
    assert read_page_marks(body).asks_sign_in is asks


@pytest.mark.parametrize(
    ("body", "to"),
    [
        (b'<meta http-equiv="refresh" content="0; url=http://p.example/a">', "http://p.example/a"),
        (b"<META content='0;URL=/x' HTTP-EQUIV=refresh>", "/x"),
        (b"<meta http-equiv=refresh content='5;url=/login?a=1&amp;b=2'>", "/login?a=1&b=2"),
        (b"<meta http-equiv=refresh content=5>", None),
        (b"<meta name=description content='url=http://p.example/'>", None),
    ],
)
def test_where_a_refresh_leads(body, to):
    assert read_page_marks(body).refresh == to


def test_the_title_is_one_harmless_line_of_bounded_length():
    body = b"<title lang=en> Tern&#27;[2J Bay\n\xff &lt;b&gt;" + b"x" * 900 + b"</title>"
    title = read_page_marks(body).title
    assert title.startswith("Tern[2J Bay")
    assert title.isprintable()
    assert len(title) == MAX_TITLE
    assert read_page_marks(b"<title></title>").title is None


def test_only_the_head_of_a_long_page_is_looked_at():
    assert read_page_marks(b" " * MAX_LOOKED_AT + b"<title>late</title>").title is None
