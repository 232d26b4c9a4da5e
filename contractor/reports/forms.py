"""What is typed about reports: a certificate, a paper to check."""

from django import forms


class BringKey(forms.Form):
    """A firm's own certificate with its key."""

    file = forms.FileField(
        label="Certificate with its key", help_text="A PKCS#12 file, .p12 or .pfx."
    )
    password = forms.CharField(
        label="Its password",
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
        help_text="Used once to open the file, and not kept.",
    )


class Check(forms.Form):
    """A paper to check: its code, or its file."""

    code = forms.CharField(
        label="Code or fingerprint",
        required=False,
        max_length=120,
        help_text="It stands at the foot of each page.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )
    file = forms.FileField(
        label="Or the PDF itself",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": "application/pdf,.pdf"}),
        help_text="Choose it, or drop it here. It is compared and not kept.",
    )

    def clean(self) -> dict[str, object]:
        """Ask for one of the two."""
        said = super().clean() or {}
        if not self.errors and not said.get("code") and not said.get("file"):
            raise forms.ValidationError("Type the code, or choose the PDF.")
        return said
