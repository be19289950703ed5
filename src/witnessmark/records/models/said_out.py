"""What is out by somebody's word: a line typed in the list of who has what, beside the shipment that it made."""

from django.db import models

from witnessmark.records.models.ledger import Act, Piece
from witnessmark.records.models.outwork import Shipment


class SaidOut(models.Model):
    """One line as it was typed. The shipment is like any other; this keeps the words, and which piece stood in for the thing."""

    shipment = models.OneToOneField(Shipment, models.PROTECT, primary_key=True, related_name="said_out")
    typed = models.JSONField(help_text="what, whom, since and promised, letter by letter")
    stood_in = models.ForeignKey(Piece, models.PROTECT, null=True, related_name="+")
    bound_act = models.ForeignKey(Act, models.PROTECT, null=True, related_name="+")
    act = models.ForeignKey(Act, models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return str(self.shipment_id)
