"""Addresses of proposals over the whole studio, below /projects/proposal/."""

from django.urls import path

from projects.views import proposals

urlpatterns = [
    path("", proposals.proposals, name="proposals"),
    path("<str:token>/", proposals.proposal, name="proposal"),
    path("<str:token>/cancel/", proposals.proposal_cancel, name="proposal-cancel"),
    path("<str:token>/accept/", proposals.proposal_accept, name="proposal-accept"),
]
