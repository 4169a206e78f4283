"use strict";
// Looks again by itself, as the page says; without a script its head does.
setTimeout(() => location.reload(), 2000);
