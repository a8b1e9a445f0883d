"""Signing: the person is proven first, outside any transaction, so that a failed proof stays counted."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import CommandView
from fleet.common.actor import Actor
from fleet.services.passkeys import prove_passkey
from fleet.services.sign_in import prove_colleague, prove_password
from records.api import run_shapes as shapes
from records.api.run_views import REFUSALS
from records.models import Signature, SignedRecord
from records.selectors.runs import still_needed
from records.services.signing import Signing, sign
from scheduling.api.answers import KEY

NOT_ENTITLED = OpenApiResponse(
    description="Wrong password, locked out, or no valid certificate or authorisation in scope."
)


class ProvenCommand(CommandView):
    """A command whose body carries a proof: tried before it is carried out, and never kept, not even hashed."""

    proof = Signature.Proof.PASSWORD

    def prove(self, data: dict[str, Any]) -> Actor:
        """The person who signs: whoever is signed in, or the colleague named."""
        plain = self.request._request
        if data.get("passkey"):
            self.proof = Signature.Proof.PASSKEY
            return prove_passkey(
                actor=self.actor,
                username=data.get("username", ""),
                credential=data["passkey"],
                request=plain,
            )
        if data.get("username"):
            return prove_colleague(
                actor=self.actor, username=data["username"], password=data["password"], request=plain
            )
        prove_password(actor=self.actor, password=data["password"], request=plain)
        return self.actor

    def _digest(self, request: Request) -> str:
        known = {
            name: value for name, value in dict(request.data).items() if name not in ("password", "passkey")
        }
        text = json.dumps([request.path, known], sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()


class SignView(ProvenCommand):
    """Signing a run."""

    @extend_schema(
        operation_id="runs_sign",
        parameters=[KEY],
        request=shapes.SigningShape,
        responses={200: shapes.SignedShape, 403: NOT_ENTITLED, **REFUSALS},
    )
    def post(self, request: Request, run_id: int) -> Response:
        """Sign what was shown; the last signature needed seals the record and settles the task."""
        self.signer = self.prove(self.parsed(shapes.SigningShape))
        return super().post(request, run_id=run_id)

    def command(self, request: Request, run_id: int) -> Response:
        data = self.parsed(shapes.SigningShape)
        signing = Signing(run_id, data["meaning"], data["content_digest"], self.proof)
        signature, record = sign(actor=self.signer, signing=signing)
        return Response(shapes.SignedShape(signed(signature, record)).data)


def signed(signature: Signature, record: SignedRecord | None) -> dict[str, object]:
    """What came of a signature."""
    return {
        "meaning": signature.meaning,
        "signed_at": signature.signed_at,
        "is_sealed": record is not None,
        "record": record.number if record else "",
        "digest": record.digest if record else "",
        "still_needed": still_needed(signature.run),
    }
