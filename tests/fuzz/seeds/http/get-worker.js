0GET /fell/worker.js
