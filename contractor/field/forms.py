"""What the office types about tablets."""

from django import forms


class NewTablet(forms.Form):
    """The name that is written on a tablet."""

    name = forms.CharField(max_length=80, label="Name of the tablet, as written on it")


class Rescue(forms.Form):
    """A sealed rescue file."""

    file = forms.FileField(label="Rescue file of a tablet")


class Decide(forms.Form):
    """Whether an entry counts, and why."""

    take = forms.ChoiceField(choices=[("yes", "take it"), ("no", "leave it out")])
    reason = forms.CharField(required=False, max_length=200)


class Excuse(forms.Form):
    """Why a visit is signed off without what a tablet holds."""

    reason = forms.CharField(required=False, max_length=200)
