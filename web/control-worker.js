/* SPDX-License-Identifier: MIT */
const files = [
  {{files}}
];
