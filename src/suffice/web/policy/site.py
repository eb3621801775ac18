"""What the policy page says of the clinic's own infants."""

from __future__ import annotations

from django.utils.translation import gettext as _

from suffice.care.clinic.learning import is_of_prior
from suffice.knowledge.policy import Clinic, Policy
from suffice.knowledge.store import Content
from suffice.web.shown.wording import Wording


def site_words(policy: Policy, content: Content) -> str:
    """On how many infants forecasts rest, since when, and whether they are used."""
    least = int(content.constant("forecast.clinic_infants_least_count").value)
    site, wording = policy.site, Wording(policy=policy)
    if site is None:
        return _(
            "Once %(least)s infants of this clinic have been weighed twice, the program learns from them,"
            " at night, how infants grow and are weighed here; forecasts then follow them. There are"
            " not enough yet."
        ) % {"least": least}
    text = _(
        "Learned on %(day)s from %(infants)s infants of this clinic with %(weights)s weights, discharged"
        " ones too: one weight of a newborn is uncertain by %(noise)s, and %(gross)s of weights are gross"
        " errors."
    ) % {
        "day": wording.day(site.learned_at),
        "infants": site.infants_count,
        "weights": site.weights_count,
        "noise": wording.weight(site.noise_g),
        "gross": wording.chance(site.gross_share),
    }
    if policy.site_off:
        return f"{text} {_('Left out of forecasts.')}"
    here = Clinic(policy=policy, policy_version=0, content=content)
    if not is_of_prior(site, here):
        return (
            f"{text} {_('Not used: the growth model has changed since; it learns again tonight.')}"
        )
    return f"{text} {_('Forecasts follow them.')}"
