"""What the buttons of the set-up page send."""

from typing import Any

from curriculum.models import PlannedMaterial, ThemeRun
from curriculum.selectors.themes import centres_in_order
from provider.forms.base import DeskForm, RowChoice


class LayOutForm(DeskForm):
    """One need, one centre, or neither for the whole room."""

    need = RowChoice(required=False)
    centre = RowChoice(required=False)

    def __init__(self, *args: Any, run: ThemeRun, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        needs = PlannedMaterial.objects.filter(run=run, voided_at__isnull=True)
        self.fields["need"].queryset = needs  # type: ignore[attr-defined]
        self.fields["centre"].queryset = centres_in_order(run.provider)  # type: ignore[attr-defined]


class CentreTimerForm(DeskForm):
    centre = RowChoice()

    def __init__(self, *args: Any, run: ThemeRun, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["centre"].queryset = centres_in_order(run.provider)  # type: ignore[attr-defined]
