"""How many more: the one field of the page that says what stops one from making more."""

from stash.calc.ways.more import MOST_MORE
from stash.forms.fields import MeasuredForm, WholeField


class MoreForm(MeasuredForm):
    more = WholeField(label="How many more", least=1, most=MOST_MORE)
