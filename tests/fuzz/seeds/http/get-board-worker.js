0GET /fell/board-worker.js
