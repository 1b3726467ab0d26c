from django.urls import path

from billing.views import receipts

urlpatterns = [
    path("<slug:slug>/money/receipts/", receipts.receipts, name="receipts"),
    path("<slug:slug>/money/receipts/new/", receipts.receipt_new, name="receipt_new"),
    path("<slug:slug>/money/receipts/<str:public_id>/", receipts.receipt, name="receipt"),
    path("<slug:slug>/money/receipts/<str:public_id>/correct/", receipts.receipt_correct, name="receipt_correct"),
    path("<slug:slug>/money/receipts/<str:public_id>/return/", receipts.receipt_return, name="receipt_return"),
    path("<slug:slug>/money/receipts/<str:public_id>/void/", receipts.receipt_void, name="receipt_void"),
]
