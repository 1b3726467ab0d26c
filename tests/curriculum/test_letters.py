"""The letter to families: what it says, whom it reaches, and what comes of its wish list."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.utils import translation

from curriculum.models import Acquisition, How, LetterWord, Material
from curriculum.selectors.letters import (
    letter_of,
    names_in,
    receivers_of,
    sent_letters,
    thanks_of,
    wishes_of,
)
from curriculum.services.letters import add_wish, receive_wish, remove_wish, send_letter, write_words
from curriculum.services.runs import void_run
from curriculum.skills import with_own
from provider.errors import DomainError, StaleRow
from provider.models import FamilyNotice
from tests.factories import (
    make_activity,
    make_child,
    make_enrolment,
    make_household,
    make_planned,
    make_wish,
)

pytestmark = pytest.mark.django_db
TODAY = date(2025, 3, 12)
NOW = datetime(2025, 3, 12, 17, 0, tzinfo=UTC)


@pytest.fixture
def planned(run, centre):
    return make_planned(run, centre, make_activity(run.provider, "P-ATL 1", main="P-SCI 3", name="Sorting seeds"))


@pytest.fixture
def family(provider):
    """A household with a child enrolled."""

    def make(name, email="", language="en", child="Juniper Vale", **enrolment):
        household = make_household(provider, name=name, email=email, language=language)
        make_enrolment(make_child(household, name=child), **enrolment)
        return household

    return make


def send(writer, run, **given):
    return send_letter(**writer, now=NOW, run=run, **given)


def test_it_says_what_children_do_and_practise_at_each_centre(run, centre, planned):
    (at,) = letter_of(run, "en").centres

    assert (at.name, at.activities) == (centre.name, ("Sorting seeds",))
    assert at.goals == ("Compares and sorts", "Manages emotions")


def test_a_full_centre_keeps_its_main_goals(run, centre):
    make_planned(run, centre, make_activity(run.provider, *(f"P-ATL {n}" for n in range(1, 8))))
    make_planned(run, centre, make_activity(run.provider, main="P-SCI 3"))

    (at,) = letter_of(run, "en").centres

    assert len(at.goals) == 4
    assert at.goals[0] == "Compares and sorts"


def test_a_centre_without_an_activity_is_left_out(run, centre):
    assert letter_of(run, "en").centres == ()


def test_it_holds_books_wishes_and_the_owners_words(writer, run):
    words = {"opening": "Dear families,", "books": "The Seed\n\n Roots \n", "closing": "See you"}
    write_words(**writer, run=run, language="en", version=0, **words)
    make_wish(run, text="Egg boxes")
    make_wish(run, text="Cork", arrived_on=TODAY)

    letter = letter_of(run, "en")

    assert letter.books == ["The Seed", "Roots"]
    assert letter.wishes == ("Egg boxes",)
    for said in ("Dear families,", "- Roots", "- Egg boxes", "See you"):
        assert said in letter.text


def test_it_leaves_out_what_there_is_not(run):
    assert "Books" not in letter_of(run, "en").text


@pytest.mark.parametrize(
    ("language", "subject", "practise"),
    [
        ("fr", "Ce que nous ferons : ", "Nous exerçons : Compare et trie · Gère ses émotions"),
        ("es", "Lo que haremos: ", "Practicamos: Compara y clasifica · Maneja sus emociones"),
    ],
)
def test_it_is_written_in_the_language_of_the_family(run, planned, language, subject, practise):
    make_wish(run, text="Egg boxes")

    letter = letter_of(run, language)

    assert letter.subject == f"{subject}{run.theme.name}"
    assert practise in letter.text
    assert "Clean odds and ends" not in letter.text


@pytest.mark.parametrize("language", ["fr", "es"])
def test_every_goal_of_the_shipped_framework_has_words_in_the_languages_of_families(language):
    head_start = next(each for each in with_own([], "US", word="Own") if each.code == "elof-2015")

    with translation.override(language):
        untranslated = [goal.title for goal in head_start.goals if translation.gettext(goal.title) == goal.title]

    assert untranslated == []


def test_it_takes_the_words_of_its_language(writer, run):
    write_words(**writer, run=run, language="fr", version=0, opening="Chères familles,")

    assert "Chères familles," in letter_of(run, "fr").text
    assert "Chères familles," not in letter_of(run, "en").text


def test_signs_in_a_letter_stay_as_they_are(writer, run):
    write_words(**writer, run=run, language="en", version=0, opening="Mud & <worms>")

    assert "Mud & <worms>" in letter_of(run, "en").text


def test_words_that_somebody_else_wrote_are_not_lost(writer, run):
    write_words(**writer, run=run, language="en", version=0, opening="First")

    with pytest.raises(StaleRow):
        write_words(**writer, run=run, language="en", version=0, opening="Second")

    assert LetterWord.objects.get().opening == "First"


def test_words_are_changed(writer, run):
    write_words(**writer, run=run, language="en", version=0, opening="First")

    assert write_words(**writer, run=run, language="en", version=1, opening="Second").opening == "Second"


def test_each_family_gets_one_mail_in_its_language(writer, run, family, mailoutbox):
    family("Ash", "ash@example.org")
    family("Bois", "bois@example.org", "fr")
    write_words(**writer, run=run, language="fr", version=0, opening="Chères familles,")

    send(writer, run)

    assert [(mail.to, "Chères familles," in mail.body) for mail in mailoutbox] == [
        (["ash@example.org"], False),
        (["bois@example.org"], True),
    ]


def test_a_letter_that_is_posted_twice_goes_out_once(writer, run, family, mailoutbox):
    family("Ash", "ash@example.org")
    family("Bois", "bois@example.org", "fr")

    send(writer, run, submission_key="key")
    send(writer, run, submission_key="key")

    assert len(mailoutbox) == 2
    assert FamilyNotice.objects.count() == 2


def test_no_letter_names_a_child(writer, run, planned, family, mailoutbox):
    family("Ash", "ash@example.org")

    send(writer, run)

    assert "Juniper" not in mailoutbox[0].subject + mailoutbox[0].body


def test_a_family_without_an_address_is_known(writer, run, family):
    household = family("Ash")

    (english, *_others) = receivers_of(run, TODAY)

    assert [each.household for each in english.without] == [household]
    assert send(writer, run)[0].deliveries.get().sent_at is None


def test_a_family_whose_place_has_ended_gets_none(writer, run, family, mailoutbox):
    family("Ash", "ash@example.org", start=date(2025, 1, 1), end=date(2025, 3, 1))

    with pytest.raises(DomainError, match="No family"):
        send(writer, run)

    assert mailoutbox == []


def test_a_family_that_begins_with_the_run_gets_one_before(provider, writer, run, family, mailoutbox):
    family("Ash", "ash@example.org", start=run.start)

    send_letter(**{**writer, "today": date(2025, 2, 20)}, now=NOW, run=run)

    assert len(mailoutbox) == 1


def test_a_run_that_left_the_plan_is_not_written_about(writer, run, family, mailoutbox):
    family("Ash", "ash@example.org")
    void_run(**writer, run=run, version=1, reason="Wrong month")

    with pytest.raises(DomainError):
        send(writer, run)

    assert mailoutbox == []


def test_when_it_went_out_is_known(provider, writer, run, family):
    family("Ash", "ash@example.org")
    send(writer, run)

    assert [entry.summary for entry in sent_letters(provider, run)] == ["Sent the letter to 1 family"]


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("We look for juniper, berries", ["Juniper"]),
        ("Junipers grow", []),
        ("June made a box", ["June"]),
        ("", []),
    ],
)
def test_the_name_of_a_child_is_noticed(provider, text, names):
    make_child(make_household(provider), name="Juniper Vale", preferred_name="June")

    assert names_in(provider, [text]) == names


def test_what_comes_is_a_given_lot_and_somebody_is_thanked(writer, run):
    wish = add_wish(**writer, run=run, text="Clean jar lids")

    lot = receive_wish(**writer, wish=wish, on=TODAY, name="Jar lids", quantity=Decimal(20), source="The Ashes")

    assert (lot.how, lot.basis, lot.quantity, lot.material.name) == (How.GIVEN, Decimal(0), Decimal(20), "Jar lids")
    assert [row.source for row in thanks_of(run)] == ["The Ashes"]
    assert [(row.arrived_on, row.material.name) for row in wishes_of(run)] == [(TODAY, "Jar lids")]


def test_two_families_bring_the_same(writer, run):
    wish = add_wish(**writer, run=run, text="Clean jar lids")
    for who in ("The Ashes", "The Birches"):
        receive_wish(**writer, wish=wish, on=TODAY, name="Jar lids", quantity=Decimal(5), source=who)

    assert [row.source for row in thanks_of(run)] == ["The Ashes", "The Birches"]
    assert Material.objects.count() == 1


def test_what_comes_twice_by_one_form_is_one_lot(writer, run):
    wish = make_wish(run)
    given = {"wish": wish, "on": TODAY, "name": "Lids", "quantity": Decimal(5), "submission_key": "key"}

    assert receive_wish(**writer, **given) == receive_wish(**writer, **given)
    assert Acquisition.objects.count() == 1


def test_nothing_comes_tomorrow(writer, run):
    with pytest.raises(DomainError) as refused:
        receive_wish(**writer, wish=make_wish(run), on=date(2025, 3, 13), name="Lids", quantity=Decimal(1))

    assert refused.value.field == "on"


def test_a_wish_off_the_list_receives_nothing(writer, run):
    wish = make_wish(run)
    remove_wish(**writer, wish=wish, version=1)

    assert list(wishes_of(run)) == []
    with pytest.raises(DomainError, match="no longer on the list"):
        receive_wish(**writer, wish=wish, on=TODAY, name="Lids", quantity=Decimal(1))


def test_a_stale_wish_is_questioned(writer, run):
    with pytest.raises(StaleRow):
        remove_wish(**writer, wish=make_wish(run), version=2)
