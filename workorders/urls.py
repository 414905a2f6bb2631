"""Every route of this app on one page."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, path

from workorders.orders import api as orders

urlpatterns: list[URLPattern | URLResolver] = [
    path("work-orders", orders.WorkOrders.as_view(), name="work-orders"),
    path("work-orders/<uuid:id>", orders.WorkOrder.as_view(), name="work-order"),
    path("work-orders/<uuid:id>/moves", orders.WorkOrderMoves.as_view(), name="work-order-moves"),
    path("work-orders/<uuid:id>/priority", orders.WorkOrderPriority.as_view(), name="work-order-priority"),
    path("service-levels", orders.ServiceLevels.as_view(), name="service-levels"),
    path("service-levels/<uuid:id>", orders.ServiceLevel.as_view(), name="service-level"),
]
