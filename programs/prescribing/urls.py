"""The pages of prescribing."""

from django.urls import URLPattern, URLResolver, path

from programs.prescribing.views import choosing, paper, prescribe, programs, screening, templates

app_name = "prescribing"
urlpatterns: list[URLPattern | URLResolver] = [
    path("templates/", templates.template_list, name="templates"),
    path("templates/<slug:slug>/", templates.template_page, name="template"),
    path("templates/<slug:slug>/edit/", templates.edit, name="template-edit"),
    path("programs/new/", prescribe.new_program, name="new"),
    path("programs/exercises/", choosing.find, name="find"),
    path("clients/<uuid:public_id>/screening/", screening.screening, name="screening"),
    path("programs/<uuid:public_id>/", programs.program_page, name="program"),
    path("programs/<uuid:public_id>/revise/", prescribe.revise, name="revise"),
    path("programs/<uuid:public_id>/compare/", programs.compare, name="compare"),
    path("programs/<uuid:public_id>/as-client/", programs.as_client, name="as-client"),
    path("programs/<uuid:public_id>/template/", templates.from_program, name="template-from"),
    path("programs/<uuid:public_id>/handout/", paper.handout_page, name="handout"),
    path("programs/<uuid:public_id>/handout.pdf", paper.handout_pdf_page, name="handout-pdf"),
    path("programs/<uuid:public_id>/pause/", programs.pause, name="pause"),
    path("programs/<uuid:public_id>/resume/", programs.resume, name="resume"),
    path("programs/<uuid:public_id>/end/", programs.end, name="end"),
]
