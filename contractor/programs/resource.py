"""What every address of the API has in common: who may, what comes in, what goes out."""

import functools
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from typing import Any, ClassVar
from uuid import UUID

from django import forms
from django.conf import settings
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import Http404
from django.http.response import HttpResponseBase
from django.utils import timezone
from rest_framework.exceptions import APIException, PermissionDenied, Throttled, ValidationError
from rest_framework.parsers import JSONParser
from rest_framework.response import Response

from contractor.programs import queries, services, typed
from contractor.programs.services.answers import KEPT_FOR
from contractor.programs.shapes import Shape
from contractor.tenancy.permissions import Permission
from contractor.web import limits
from contractor.web.api import FirmApi

MOST = 200
USUAL = 50
LONGEST_KEY = 120


class Refused(APIException):
    """It cannot be done as things stand; the sentence says why and what to do."""

    status_code = 409
    default_code = "refused"


class KeyTaken(APIException):
    """The same Idempotency-Key came with another request."""

    status_code = 422
    default_code = "key_taken"
    default_detail = (
        "This Idempotency-Key was used for another request within the last 24 hours. "
        "Make a new key for each new request."
    )


@dataclass(frozen=True)
class Filter:
    """One way to narrow a list, named as on the page."""

    name: str
    about: str
    values: tuple[str, ...] = ()
    kind: str = "text"
    example: str = ""


@dataclass(frozen=True)
class Operation:
    """What one method of one address takes and answers."""

    answer: Shape | None
    permission: Permission
    many: bool = False
    takes: type[forms.Form] | None = None
    partly: bool = False
    status: int = 200
    filters: tuple[Filter, ...] = ()
    example: dict[str, Any] | None = None
    media: str = "application/json"
    file: bool = False
    keys: dict[str, str] = field(default_factory=dict)
    group: str = ""
    shown_once: str = ""  # a field of the answer that is not kept for a repeated call


def operation(
    answer: Shape | None, permission: Permission = Permission.READ, **more: Any
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Make a method of a Resource an operation: its return value is written as the answer."""
    if "takes" in more:
        more.setdefault("example", {})
    about = Operation(answer=answer, permission=permission, **more)

    def decorate(act: Callable[..., Any]) -> Callable[..., Any]:
        @functools.wraps(act)
        def run(self: "Resource", request: Any, **keys: Any) -> Any:
            if request.method == "POST":
                return self.once(request, about, lambda: act(self, request, **keys))
            return self.answer(about, act(self, request, **keys))

        run.operation = about  # type: ignore[attr-defined]
        return run

    return decorate


class Resource(FirmApi):
    """One address of the API; its methods are operations."""

    group = ""
    refusals: ClassVar[tuple[type[Exception], ...]] = ()
    missing: ClassVar[tuple[type[Exception], ...]] = ()
    parser_classes: Any = (JSONParser,)
    http_method_names = ["get", "head", "post", "patch"]
    request: Any

    @property
    def firm_id(self) -> UUID:
        """The firm behind whose door we are."""
        key: UUID = self.request.firm.pk
        return key

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        """Open the door for what this method needs, and count the call."""
        act = getattr(self, str(request.method).lower(), None)
        about = getattr(act, "operation", None)
        needed = about.permission if about else Permission.READ
        self.permission = self.write_permission = needed
        super().initial(request, *args, **kwargs)
        held = request.auth
        if held is not None and needed not in held.allows:
            request._request.refused = (self.firm_id, request.member.pk)
            raise PermissionDenied(
                f"This token may not do this: it lacks “{needed}”. Make one that has it."
            )
        holder = str(held.token_id if held else request.user.pk)
        limit = limits.Limit(settings.API_PER_MINUTE, 60)
        if seconds := limits.wait("api", holder, limit):
            raise Throttled(wait=seconds, detail="Too many calls. Wait, then go on.")

    def now_and_member(self) -> dict[str, Any]:
        """Give what every service asks: who does it, and when."""
        return {"member": self.request.member, "now": timezone.now()}

    def get_or_404(self, read: Callable[..., Any], **keys: Any) -> Any:
        """Read one thing of this firm; unknown and another firm's look alike."""
        try:
            return read(firm_id=self.firm_id, **keys)
        except self.missing:
            raise Http404 from None

    def named(self, name: str, read: Callable[..., Any], **keys: Any) -> Any:
        """Read what a field of the body names; unknown and another firm's look alike."""
        try:
            return read(firm_id=self.firm_id, **keys)
        except self.missing:
            raise ValidationError({name: ["There is no such thing in this firm."]}) from None

    def read(self, form: type[forms.Form], *, row: Any = None, **more: Any) -> Any:
        """Read the body with a form of the pages; with a row, what is left out stays."""
        data = self.request.data
        if not isinstance(data, dict):
            raise ValidationError({"": ["Send one JSON object."]})
        if found := typed.problems_of(form, data):
            raise ValidationError(found)
        data = {name: value for name, value in data.items() if value is not None}
        before = typed.usual(form) if row is None else typed.standing(form, row)
        data = before | data
        filled = form(data, **more)
        if not filled.is_valid():
            found = {
                "" if name == NON_FIELD_ERRORS else name: [str(one) for one in errors]
                for name, errors in filled.errors.items()
            }
            raise ValidationError(found)
        return filled

    def asked(self, name: str, usual: str = "") -> str:
        """Give one filter as it was asked."""
        value = self.request.query_params.get(name, usual)
        if not typed.is_writable(value):
            raise ValidationError({name: ["This text holds characters that cannot be kept."]})
        for one in self.operation_of().filters:
            if one.name != name or value == usual:
                continue
            if one.values and value not in one.values:
                raise ValidationError({name: [f"Ask for one of: {', '.join(one.values)}."]})
        return str(value)

    def asked_id(self, name: str) -> UUID | None:
        """Give one filter that is a key."""
        value = self.asked(name)
        if not value:
            return None
        try:
            return UUID(value)
        except ValueError:
            raise ValidationError({name: ["This is no key."]}) from None

    def operation_of(self) -> Operation:
        """Tell what the method that was called takes and answers."""
        method = "get" if self.request.method == "HEAD" else str(self.request.method).lower()
        about: Operation = getattr(self, method).operation
        return about

    def page(self, rows: Any) -> dict[str, Any]:
        """Cut one page out of a list in the order of its keys: no row twice, none missed."""
        limit, after = self._limit(), self.asked_id("cursor")
        shape = self.operation_of().answer
        assert shape is not None
        rows = rows.order_by("pk")
        if after is not None:
            rows = rows.filter(pk__gt=after)
        found = list(rows[: limit + 1])
        more = found[limit - 1].pk if len(found) > limit else None
        return {
            "items": [shape.write(one) for one in self.dress(found[:limit])],
            "next": str(more) if more else None,
        }

    def dress(self, rows: list[Any]) -> Sequence[Any]:
        """Add to one page of rows what their shape asks besides."""
        return rows

    def whole(self, rows: Sequence[Any]) -> dict[str, Any]:
        """Give a list that is short by nature on one page."""
        shape = self.operation_of().answer
        assert shape is not None
        return {"items": [shape.write(one) for one in rows], "next": None}

    def _limit(self) -> int:
        asked = self.request.query_params.get("limit", str(USUAL))
        if not (asked.isascii() and asked.isdigit() and 1 <= int(asked[:6]) <= MOST):
            raise ValidationError({"limit": [f"Ask for 1 to {MOST} at a time."]})
        return int(asked)

    def answer(self, about: Operation, result: Any) -> Any:
        """Write what an operation returned."""
        if isinstance(result, HttpResponseBase):
            return result
        if about.answer is None:
            return Response(status=204)
        body = result if about.many else about.answer.write(result)
        return Response(body, status=about.status)

    def _act(self, about: Operation, act: Callable[[], Any]) -> Any:
        try:
            return self.answer(about, act())
        except self.refusals as error:
            raise Refused(str(error)) from None

    def once(self, request: Any, about: Operation, act: Callable[[], Any]) -> Any:
        """Do it once for one Idempotency-Key: the same call again gets the same answer."""
        key = request.META.get("HTTP_IDEMPOTENCY_KEY", "")
        if not key:
            return self._act(about, act)
        if len(key) > LONGEST_KEY or not key.isprintable() or not key.isascii():
            raise ValidationError(
                {"Idempotency-Key": [f"At most {LONGEST_KEY} printable characters."]}
            )
        now = timezone.now()
        asked = self._hash(request)
        services.lock_key(firm_id=self.firm_id, key=key)
        kept = queries.find_answer(firm_id=self.firm_id, key=key, since=now - KEPT_FOR)
        if kept is not None:
            if kept.request_hash != asked:
                raise KeyTaken
            body = json.loads(kept.body) if kept.body else None
            return Response(body, status=kept.status, headers={"Idempotent-Replay": "true"})
        response = self._act(about, act)
        said = response.data
        if about.shown_once:
            said = {**said, about.shown_once: ""}
        body = "" if said is None else json.dumps(said)
        services.keep_answer(
            firm_id=self.firm_id,
            key=key,
            request_hash=asked,
            status=response.status_code,
            body=body,
            now=now,
        )
        return response

    def _hash(self, request: Any) -> str:
        """Sum up what is asked: who, method, address, body."""
        data = request.data
        if isinstance(data, bytes):
            sent = data
        else:
            files = {name: one.read() for name, one in request.FILES.items()}
            for one in request.FILES.values():
                one.seek(0)
            plain = data
            if files:  # those are summed up by what is in them
                plain = {name: data[name] for name in data if name not in files}
            sent = json.dumps(plain, sort_keys=True, default=str).encode()
            sent += b"".join(sha256(one).digest() for one in files.values())
        head = f"{request.user.pk} {request.method} {request.get_full_path()}\n"
        return sha256(head.encode() + sent).hexdigest()

    def handle_exception(self, exc: Exception) -> Response:
        """Answer what a service refuses, whichever method asked, as a refusal."""
        if isinstance(exc, self.refusals):
            exc = Refused(str(exc))
        return super().handle_exception(exc)


def now() -> datetime:
    """Read the clock."""
    return timezone.now()
