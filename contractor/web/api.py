"""The API door: the same firm, scope and permissions as the page door."""

from contextlib import ExitStack
from http import HTTPStatus
from typing import Any

from django.core.exceptions import ObjectDoesNotExist
from django.db import transaction
from django.http import Http404
from rest_framework.permissions import SAFE_METHODS
from rest_framework.response import Response
from rest_framework.views import APIView, exception_handler

from contractor.tenancy.permissions import Permission
from contractor.web.door import entered, finished


class FirmApi(APIView):
    """An API view behind the firm's door; the URL gives the firm's slug as `firm`."""

    permission = Permission.READ
    write_permission = Permission.MANAGE
    door = "firm:api"
    entered_firm = False

    def dispatch(self, request: Any, firm: str, *args: Any, **kwargs: Any) -> Any:
        """Run the view inside the firm's scope; roll back whatever ended as a problem."""
        self.slug = firm
        with ExitStack() as self.scope:
            response: Any = super().dispatch(request, *args, **kwargs)
            if getattr(response, "exception", False) and self.entered_firm:
                transaction.set_rollback(True)  # DRF has swallowed the exception: it would commit
            return finished(response)

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        """Ask who it is; then open the door."""
        super().initial(request, *args, **kwargs)
        needed = self.permission if request.method in SAFE_METHODS else self.write_permission
        self.scope.enter_context(entered(request, self.slug, needed))
        self.entered_firm = True


def one_error_shape(error: Exception, context: dict[str, Any]) -> Response | None:
    """Answer every refusal in one shape: problem details (RFC 9457) with our sentence.

    Besides the standard's members there are `code`, a word for programs, and `fields`: for each
    field that cannot be taken, why.
    """
    if isinstance(error, ObjectDoesNotExist):
        error = Http404()
    response = exception_handler(error, context)
    if response is None:
        return None
    said = response.data
    fields: Any = {}
    if isinstance(said, dict) and set(said) == {"detail"}:
        detail = str(said["detail"])
    else:
        detail = "Some fields cannot be taken as they are."
        fields = said if isinstance(said, dict) else {"": said}
    usual = {403: "permission_denied", 404: "not_found"}.get(response.status_code, "error")
    code = getattr(error, "default_code", usual)
    response.data = {
        "type": "about:blank",
        "title": HTTPStatus(response.status_code).phrase,
        "status": response.status_code,
        "detail": detail,
        "code": code,
        "fields": fields,
    }
    response.content_type = "application/problem+json"
    return response
