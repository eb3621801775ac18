// The time zone of this device is offered where none was chosen yet.
const field = document.querySelector("[data-own-zone]");
const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (field && zone && (!field.value || field.value === "UTC")) field.value = zone;
